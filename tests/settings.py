"""The studio's settings for tests: data that is thrown away, and nothing taken from the person's environment."""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

# A folder for each test process: two runs at once, or two workers of one run, never meet. A worker's lies in
# the folder of its run, which the first process removes: workers do not live to clear up after themselves.
_FOLDER = Path(tempfile.mkdtemp(prefix="studio-tests-", dir=os.environ.get("STUDIO_TEST_RUN")))
atexit.register(shutil.rmtree, _FOLDER, ignore_errors=True)

os.environ["STUDIO_VAR"] = str(_FOLDER)
for _name in (
    "DEBUG",
    "PORT",
    "SECRET_KEY",
    "STUDIO_BIND",
    "STUDIO_DB",
    "STUDIO_HOSTS",
    "STUDIO_HTTPS",
    "STUDIO_PROXY",
    "STUDIO_ZONE",
):
    os.environ.pop(_name, None)

from studio.settings import *  # noqa: E402, F403 - only now, with the environment in order
from studio.settings import DATABASES  # noqa: E402

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]  # quick; tests sign in often

if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # A file, because threads cannot share the in-memory database that Django would take; not flushed to
    # disk, because nobody needs it after a power cut.
    DATABASES["default"]["TEST"] = {"NAME": str(_FOLDER / "test.sqlite3")}
    DATABASES["default"]["OPTIONS"]["init_command"] += " PRAGMA synchronous=OFF;"

# Every test client is a server of its own, and would list all static files anew: look them up when asked instead.
WHITENOISE_AUTOREFRESH = True
