"""The list before the pour: ticked by a press, in the way of nothing."""

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.forms.checks import TickForm
from inventory.forms.sheet import Sheet
from inventory.models import Cast, Equipment
from inventory.posting.planning import note_moment, take_back_moment
from inventory.queries.bench_clock import Kind, list_checks, moments_of
from inventory.queries.cautions import melt_cautions
from inventory.queries.records import checklist_lines

from .bench_clock import refuse_closed
from .casting_actions import find_or_404
from .saving import answer, sent, show, signed_in_user

_GRAPHITE = Equipment.CrucibleMaterial.GRAPHITE


@require_http_methods(["GET", "HEAD", "POST"])
def show_checks(request: HttpRequest, number: int) -> HttpResponse:
    """The lines that apply to this cast; a POST ticks one, or takes its tick back."""
    cast = find_or_404(number)
    closed = refuse_closed(request, cast)
    if closed is not None:
        return closed
    checks = list_checks(cast, moments_of(cast), checklist_lines())
    form = TickForm(sent(request), lines=[check.text for check in checks])
    sheet = Sheet(form)
    context = {
        "cast": cast,
        "checks": checks,
        "ticked": sum(check.tick is not None for check in checks),
        "shows_flux": cast.crucible is not None and cast.crucible.crucible_material == _GRAPHITE,
        "melt_cautions": melt_cautions([cast.alloy_id], cast.owner_id is not None),
        "section": "casts",
    }
    return answer(sheet, lambda: _tick(request, cast, form)) or show(
        request, "planning/checks.html", sheet, context
    )


def _tick(request: HttpRequest, cast: Cast, form: TickForm) -> str:
    if form.cleaned_data["back"]:
        take_back_moment(cast, Kind.TICK, form.cleaned_data["line"])
    else:
        note_moment(cast, Kind.TICK, form.cleaned_data["line"], by=signed_in_user(request))
    return reverse("inventory:cast-checks", args=[cast.number])
