"""How what is sent in is answered where a script sends it, and the way back where the sender is not known any more."""

from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse, HttpResponseForbidden, HttpResponseRedirect
from django.shortcuts import render
from django.utils.http import url_has_allowed_host_and_scheme

SENT, WAY_ON, SAVED = "Studio-Sent", "Studio-On", "Studio-Saved"
SIGNED_OUT = "You were signed out, so nothing was saved yet. Sign in, and you come back to the page."
OPEN_TOO_LONG = "The page had been open too long, so nothing was saved yet. Look at it and save it once more."

_ASKS_ONLY = ("GET", "HEAD", "OPTIONS")


def tell_way_on(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """Tell a script where to lead on to, where a browser would be sent there.

    A script that follows by itself does not learn the address, and uses up the message that waits there.
    """

    def answer(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        if SENT in request.headers and "Location" in response.headers:
            response.status_code = 204
            response.headers[WAY_ON] = response.headers["Location"]
            del response.headers["Location"]
        return response

    return answer


class SignInFirst(LoginRequiredMiddleware):
    """Leads to the sign-in page and back to the page that was asked for, or that something was sent from."""

    def handle_no_permission(self, request: HttpRequest, view_func: Any) -> Any:
        if "HX-Request" in request.headers:
            # A part of a page: a sign-in page has no place in it.
            return HttpResponseForbidden("Sign in again.", content_type="text/plain; charset=utf-8")
        if request.method in _ASKS_ONLY:
            return super().handle_no_permission(request, view_func)
        messages.warning(request, SIGNED_OUT)
        return redirect_to_login(find_page_of(request) or request.get_full_path())


def find_page_of(request: HttpRequest) -> str:
    """The address of the studio's page that this was sent from; "" where the browser does not say."""
    page = request.headers.get("Referer", "")
    if not url_has_allowed_host_and_scheme(page, {request.get_host()}, request.is_secure()):
        return ""
    parts = urlsplit(page)
    if parts.path.startswith("//"):
        # By itself this would be the address of another host.
        return ""
    return f"{parts.path}?{parts.query}" if parts.query else parts.path


def show_stale(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The answer to a form whose token does not hold any more: its page anew. One without cookies is told why."""
    if "HX-Request" in request.headers:
        # A part of a page: another whole page has no place in it.
        return HttpResponseForbidden("Open the page again.", content_type="text/plain; charset=utf-8")
    page = find_page_of(request)
    if page and settings.CSRF_COOKIE_NAME in request.COOKIES:
        messages.warning(request, OPEN_TOO_LONG)
        return HttpResponseRedirect(page)
    return render(request, "403_csrf.html", {"page": page}, status=403)
