"""Settings of the studio: one SQLite file in var/ unless DATABASE_URL says otherwise."""

import os
from pathlib import Path
from typing import Any

import fontpkg_atkinson_hyperlegible
from csp.constants import NONE, SELF

from studio.environment import (
    keep_private,
    name_studio,
    read_address,
    read_database,
    read_secret_key,
    read_switch,
    read_words,
    read_zone,
)

BASE_DIR = Path(__file__).resolve().parent.parent
VAR_DIR = Path(os.environ.get("STUDIO_VAR", "").strip() or BASE_DIR / "var")

keep_private(VAR_DIR)
DEBUG = read_switch("DEBUG")
SECRET_KEY = read_secret_key(VAR_DIR)
STUDIO_HOSTS = read_words("STUDIO_HOSTS")  # what other devices call this machine
ALLOWED_HOSTS = ["127.0.0.1", "localhost", "[::1]", *STUDIO_HOSTS]

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_filters",
    "django_htmx",
    "django_tables2",
    "studio.kit",
    "inventory",
    "costing",
]

MIDDLEWARE = [
    # What guards every answer stands outside of whatever may answer early.
    "django.middleware.security.SecurityMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "studio.kit.answers.keep_private",
    "studio.kit.sending.tell_way_on",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "inventory.middleware.StudioMiddleware",
    "studio.kit.sending.SignInFirst",
    "django.contrib.messages.middleware.MessageMiddleware",
    "studio.kit.saved.SavedAlreadyMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]

ROOT_URLCONF = "studio.urls"
WSGI_APPLICATION = "studio.wsgi.application"

TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "studio.kit.context.page",
            ],
        },
    }
]

# Data
DATABASES: dict[str, Any] = {"default": read_database(VAR_DIR)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# Language and time
LANGUAGE_CODE = "en-gb"
TIME_ZONE = read_zone("STUDIO_ZONE", "Europe/London")
USE_TZ = True
USE_I18N = False  # one language: nothing is looked up in a catalogue

# Styles, scripts and fonts: served by the studio itself, straight from where they lie
STATIC_URL = "static/"
STATICFILES_DIRS: list[Any] = [
    BASE_DIR / "studio" / "static",
    ("fonts", fontpkg_atkinson_hyperlegible.ROOT / "files"),
]
WHITENOISE_USE_FINDERS = True
WHITENOISE_ALLOW_ALL_ORIGINS = False
WHITENOISE_MIMETYPES = {".webmanifest": "application/manifest+json"}

# Signing in
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "sign-in"
_VALIDATION = "django.contrib.auth.password_validation"
AUTH_PASSWORD_VALIDATORS: list[dict[str, Any]] = [
    {"NAME": f"{_VALIDATION}.UserAttributeSimilarityValidator"},
    {"NAME": f"{_VALIDATION}.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": f"{_VALIDATION}.CommonPasswordValidator"},
    {"NAME": f"{_VALIDATION}.NumericPasswordValidator"},
]

# What a browser may do with a page: load the studio's own files, and nothing else
CONTENT_SECURITY_POLICY: dict[str, Any] = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "font-src": [SELF],
        "img-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "object-src": [NONE],
    }
}
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
STUDIO_NAME = name_studio(SECRET_KEY, DATABASES["default"])
SESSION_COOKIE_NAME = f"session-{STUDIO_NAME}"
CSRF_COOKIE_NAME = f"csrf-{STUDIO_NAME}"
MESSAGE_STORAGE = "studio.kit.answers.Messages"
CSRF_FAILURE_VIEW = "studio.kit.sending.show_stale"
SESSION_EXPIRE_AT_BROWSER_CLOSE = True  # unless somebody says that the device is their own
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"

# STUDIO_HTTPS=1: the studio stands behind a proxy that speaks HTTPS, and that says who asks through it
HTTPS = read_switch("STUDIO_HTTPS")
STUDIO_PROXY = read_address("STUDIO_PROXY", "127.0.0.1" if HTTPS else "")
SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
SECURE_HSTS_SECONDS = 30 * 24 * 60 * 60 if HTTPS else 0

# Bounds on what is sent in; a stock count with a line for every lot is the longest form
DATA_UPLOAD_MAX_MEMORY_SIZE = 1_000_000
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2_000
DATA_UPLOAD_MAX_NUMBER_FILES = 30  # the form of pictures says itself how many it takes

LOGGING: dict[str, Any] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "%(asctime)s %(levelname)s %(name)s: %(message)s"}},
    "filters": {"trouble": {"()": "studio.kit.trouble.SayTrouble"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "plain", "filters": ["trouble"]}},
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {
        "django": {"handlers": [], "level": "WARNING", "propagate": True},
        # A page that is not there is the visitor's matter, not the studio's.
        "django.request": {"level": "ERROR"},
        # A name that STUDIO_HOSTS does not have is answered with a sentence; Django would log it with a trace.
        "django.security.DisallowedHost": {"handlers": [], "propagate": False},
        # Four threads and a browser that asks for five files at once: a short wait is no news.
        "waitress.queue": {"level": "ERROR"},
    },
}
