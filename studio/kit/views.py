"""Small pages that belong to no subject: signing in and out, what a field understood, the page's colours."""

import sys
from typing import Any, TypeVar

from django.contrib.auth import views as auth_views
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseForbidden, HttpResponseRedirect
from django.template.loader import render_to_string
from django.utils.decorators import method_decorator
from django.utils.html import escape
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST, require_safe
from django.views.defaults import server_error

from studio.kit.context import THEME_COOKIE, THEMES
from studio.kit.fields import understand
from studio.kit.numerals import TEXT_MAX
from studio.kit.signing_in import SignInForm
from studio.kit.tries import mark_browser
from studio.kit.trouble import explain

Found = TypeVar("Found")
_YEAR_SECONDS = 365 * 24 * 60 * 60
_DIGITS = 16


class SignIn(auth_views.LoginView):
    """Who is already signed in goes on to the bench."""

    authentication_form = SignInForm
    redirect_authenticated_user = True

    def form_valid(self, form: Any) -> HttpResponse:
        response = super().form_valid(form)
        self.request.session.set_expiry(form.seconds)
        mark_browser(response, form.get_user().get_username())
        return response


@method_decorator(login_not_required, name="dispatch")
class SignOut(auth_views.LogoutView):
    """Takes a POST, so that no link elsewhere can sign a person out."""


@login_not_required
@require_safe
def show_understood(request: HttpRequest) -> HttpResponse:
    """One sentence for the line below a field: what was understood, or how to mend it.

    The field sends `kind`, its own name as `field`, and its text under that name (or as `text`), and its bounds
    where it has its own. Whoever is not signed in is refused here rather than sent on, for a sign-in page has no
    place below a field.
    """
    if not request.user.is_authenticated:
        return HttpResponseForbidden("Sign in again.", content_type="text/plain; charset=utf-8")
    text = request.GET.get(request.GET.get("field", "text"), request.GET.get("text", ""))
    bounds = {name: request.GET.get(name, "") for name in ("minimum", "maximum")}
    # An address may say anything: what is no plain number bounds nothing.
    known = {name: int(typed) for name, typed in bounds.items() if typed.isdecimal() and len(typed) < _DIGITS}
    return tell_understood(request.GET.get("kind", ""), text, **known)


def tell_understood(kind: str, text: str, **bounds: int) -> HttpResponse:
    """The answer below a field, and with it the event that lets the page take away an older mistake."""
    understood, sentence = understand(kind, text[: TEXT_MAX + 1], **bounds)
    event = "studio:understood" if understood else "studio:not-understood"
    return HttpResponse(escape(sentence), headers={"HX-Trigger": event})


@login_not_required
@require_POST
def choose_theme(request: HttpRequest) -> HttpResponse:
    """Keep the person's choice of light or dark in a cookie, or forget it, and go back to the page."""
    back = request.POST.get("next", "")
    if not url_has_allowed_host_and_scheme(back, {request.get_host()}, require_https=request.is_secure()):
        back = "/"
    response = HttpResponseRedirect(back)
    theme = request.POST.get("theme", "")
    if theme in THEMES:
        response.set_cookie(THEME_COOKIE, theme, max_age=_YEAR_SECONDS, samesite="Lax", httponly=True)
    else:
        response.delete_cookie(THEME_COOKIE, samesite="Lax")
    return response


def show_broken(request: HttpRequest) -> HttpResponse:
    """When something failed: a full disk or a lost database by its name, anything else as the program's fault.

    It asks neither the database nor the session, which may be what failed.
    """
    trouble = explain(sys.exc_info()[1])
    if trouble is None:
        return server_error(request)
    page = render_to_string("trouble.html", {"trouble": trouble})
    return HttpResponse(
        page, status=trouble.status, headers={"Cache-Control": "no-store", "Retry-After": "30"}
    )


def or_404(found: Found | None, sentence: str) -> Found:
    """What was looked up; where there is none, a page that says so in a sentence."""
    if found is None:
        raise Http404(sentence)
    return found
