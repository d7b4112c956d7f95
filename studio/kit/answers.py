"""What every answer of the studio itself carries, and the cookie that its messages travel in."""

from collections.abc import Callable

from django.conf import settings
from django.contrib.messages.storage.cookie import CookieStorage
from django.contrib.messages.storage.fallback import FallbackStorage
from django.contrib.messages.storage.session import SessionStorage
from django.http import HttpRequest, HttpResponse
from django.utils.cache import patch_cache_control

# The bench clock sounds when a part of the working time ends, and keeps the screen on until then.
_USED = ("autoplay", "screen-wake-lock")
_NOT_USED = """
    accelerometer browsing-topics camera clipboard-read clipboard-write compute-pressure display-capture
    encrypted-media fullscreen gamepad geolocation gyroscope hid identity-credentials-get idle-detection
    keyboard-map local-fonts local-network-access magnetometer microphone midi otp-credentials payment
    picture-in-picture publickey-credentials-create publickey-credentials-get serial speaker-selection
    storage-access sync-xhr usb window-management xr-spatial-tracking
""".split()
PERMISSIONS = ", ".join([*(f"{name}=(self)" for name in _USED), *(f"{name}=()" for name in _NOT_USED)])


def keep_private(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """Pages, exports and papers are kept by no browser and no proxy, and may use no more of a device than they need.

    Stands inside of what serves styles and scripts: those may be kept.
    """

    def answer(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        patch_cache_control(response, private=True, no_store=True)
        response["Permissions-Policy"] = PERMISSIONS
        return response

    return answer


class _NamedCookie(CookieStorage):
    cookie_name = f"messages-{settings.STUDIO_NAME}"


class Messages(FallbackStorage):
    """Django's own storage, in a cookie that bears the studio's name."""

    storage_classes = (_NamedCookie, SessionStorage)
