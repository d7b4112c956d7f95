"""The pause after wrong passwords: counted for each asker and name, in the database, for a quarter of an hour.

Nobody's tries lock out another asker. An asker is an address or, where somebody signed in before, the browser itself,
which carries a signed mark from then: so a stranger in the same house, or behind the same proxy, cannot keep the owner
from signing in either.
"""

import hashlib
import ipaddress
from datetime import timedelta

from django.conf import settings
from django.core import signing
from django.db.models import F, Q
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.crypto import get_random_string

from studio.kit.models import WrongTries

MOST_WRONG_TRIES = 10
PAUSE = timedelta(minutes=15)
TOO_MANY_TRIES = "Too many wrong tries. Wait a quarter of an hour, then try again."

_MARK = f"known-{settings.STUDIO_NAME}"
_SALT = "studio.kit.tries"
_YEAR_SECONDS = 365 * 24 * 60 * 60


def take_try(*who: str) -> bool:
    """Whether these words (what is tried, who asks, which name) have a try left; it counts until `forget_tries`.

    It is counted before the password is looked at, so that many at once get no more than one after the other.
    """
    now = timezone.now()
    # A moment that lies far ahead is from before the clock was put right; one just ahead is another thread's.
    WrongTries.objects.filter(Q(since__lte=now - PAUSE) | Q(since__gt=now + PAUSE)).delete()
    WrongTries.objects.get_or_create(key=_digest(who), defaults={"count": 0, "since": now})
    left = WrongTries.objects.filter(key=_digest(who), count__lt=MOST_WRONG_TRIES)
    return left.update(count=F("count") + 1) == 1


def forget_tries(*who: str) -> None:
    """The password was right."""
    WrongTries.objects.filter(key=_digest(who)).delete()


def find_asker(request: HttpRequest | None, name: str) -> str:
    """The browser that has signed in by this name before, else the address."""
    if request is None:
        return ""
    try:
        marked_name, mark = signing.loads(request.COOKIES.get(_MARK, ""), salt=_SALT, max_age=_YEAR_SECONDS)
    except (signing.BadSignature, ValueError):
        marked_name = mark = ""
    return (
        f"browser {mark}"
        if mark and marked_name == name
        else _neighbourhood(request.META.get("REMOTE_ADDR", ""))
    )


def mark_browser(response: HttpResponse, name: str) -> None:
    """Let the browser show next time that somebody signed in with it by this name. It opens nothing by itself."""
    mark = signing.dumps([name, get_random_string(22)], salt=_SALT)
    response.set_cookie(
        _MARK,
        mark,
        max_age=_YEAR_SECONDS,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )


def _neighbourhood(address: str) -> str:
    """The address; of a long one the part that one subscriber holds, who may change the rest at will."""
    try:
        parsed = ipaddress.ip_address(address)
    except ValueError:
        return address
    if parsed.version == 4:
        return address
    return str(parsed.ipv4_mapped or ipaddress.ip_network((parsed, 64), strict=False))


def _digest(who: tuple[str, ...]) -> str:
    return hashlib.sha256("\n".join(who).encode(errors="replace")).hexdigest()
