"""The chart of losses: what is usual for each family of metals, which casts are odd, and the limits set anew."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from inventory.forms.control import LimitsForm
from inventory.forms.sheet import Sheet
from inventory.posting.control import set_limits
from inventory.queries.bench import OddCast
from inventory.queries.casting import last_closed_casts
from inventory.queries.control import (
    FAMILY_WORDS,
    FamilyChart,
    chart_families,
    chosen_limits,
    family_limits,
    loss_share,
    read_circumstances,
)

from .saving import answer, sent, show, signed_in_user

CHART_CASTS = 60


@require_safe
def show_loss(request: HttpRequest) -> HttpResponse:
    casts = [cast for cast in last_closed_casts(CHART_CASTS) if loss_share(cast) is not None]
    chosen = chosen_limits()
    charts = chart_families(casts, family_limits(chosen=chosen))
    records = read_circumstances([cast for chart in charts for cast, _ in chart.signals], casts)
    families = [
        {
            "chart": chart,
            "picture": chart.picture(f"Loss of each cast of {chart.words}", CHART_CASTS),
            "odd": _odd_casts(chart, records),
            "chosen": chosen.get(chart.metal),
        }
        for chart in charts
    ]
    return show(request, "casting/loss.html", None, {"families": families, "section": "casts"})


def _odd_casts(chart: FamilyChart, records: dict[int, list[str]]) -> list[OddCast]:
    """Newest first."""
    return [OddCast(cast, signal, records.get(cast.pk, [])) for cast, signal in reversed(chart.signals)]


@require_http_methods(["GET", "HEAD", "POST"])
def renew_limits(request: HttpRequest, metal: str) -> HttpResponse:
    """Set the limits of a family anew, with the reason."""
    if metal not in FAMILY_WORDS:
        raise Http404
    sheet = Sheet(LimitsForm(metal, sent(request)))
    context: dict[str, Any] = {"words": FAMILY_WORDS[metal], "section": "casts"}
    return answer(sheet, lambda: _renew(request, metal, sheet)) or show(
        request, "casting/loss_limits.html", sheet, context
    )


def _renew(request: HttpRequest, metal: str, sheet: Sheet) -> str:
    found = sheet.form.cleaned_data
    set_limits(metal, found["first"], found["last"], found["reason"], signed_in_user(request))
    messages.success(request, f"The limits of {FAMILY_WORDS[metal]} are set anew.")
    return reverse("inventory:loss")
