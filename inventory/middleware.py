"""Which studio a request is about, and the way to the welcome page while there is none."""

from collections.abc import Callable
from contextlib import ExitStack

from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.functional import SimpleLazyObject

from inventory.models import Studio
from inventory.queries.studio import NotSetUp, current_studio
from studio.kit.money import showing_money
from studio.kit.scale import showing_scale

# What an empty studio answers too: none of these needs to know whose studio it is.
_FREE_NAMES = ("inventory:welcome", "sign-out", "theme", "understood")


class StudioMiddleware:
    """Sets `request.studio` and the decimals of its money and scale; without a studio, leads to the welcome page.

    It asks the database once, for the studio whose name every page shows; only where there is none does it ask
    again, whether there is anybody to sign in.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.studio = SimpleLazyObject(_find_studio)  # type: ignore[attr-defined]  # set by StudioMiddleware
        if needs_welcome(request):
            return HttpResponseRedirect(reverse("inventory:welcome"))
        studio = request.studio  # type: ignore[attr-defined]  # set above
        with ExitStack() as shown:
            if studio:
                shown.enter_context(showing_money(studio.money_decimals))
                shown.enter_context(showing_scale(studio.scale_division_mg))
            return self.get_response(request)


def _find_studio() -> Studio | None:
    try:
        return current_studio()
    except NotSetUp:
        return None


def needs_welcome(request: HttpRequest) -> bool:
    """Whether nothing can be done here before somebody sets up the studio."""
    if request.studio:  # type: ignore[attr-defined]  # set by StudioMiddleware
        return False
    if request.path in {reverse(name) for name in _FREE_NAMES}:
        return False
    return request.user.is_authenticated or not User.objects.exists()
