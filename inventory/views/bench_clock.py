"""What is pressed at the bench for a cast: the clock of its powder, and the list to tick before the pour."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.core.starters import STARTER_CHECKLIST
from inventory.core.timetable import print_iso, print_stopwatch
from inventory.forms.checklist import LINES_MOST, ChecklistForm, PressForm, TickForm
from inventory.forms.sheet import Sheet
from inventory.models import Cast, ChecklistItem, Equipment
from inventory.posting.planning import note_moment, take_back_moment
from inventory.posting.refusal import Refused
from inventory.posting.setup import begin_checklist, order_checklist
from inventory.queries.bench_clock import BenchClock, Kind, list_checks, moments_of, read_clock
from inventory.queries.plans import melt_cautions
from inventory.queries.setup import checklist_lines
from studio.kit.printing import print_seconds

from .casting_actions import find_or_404
from .records import RecordPages
from .saving import alone, answer, sent, show, signed_in_user

_GRAPHITE = Equipment.CrucibleMaterial.GRAPHITE


def refuse_closed(request: HttpRequest, cast: Cast) -> HttpResponse | None:
    """What is pressed at the bench is for a cast under way."""
    if not cast.is_closed:
        return None
    messages.warning(request, f"Cast {cast.number} is closed: what was done when stands on its page.")
    return redirect("inventory:cast-detail", cast.number)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@alone
def show_clock(request: HttpRequest, number: int) -> HttpResponse:
    """Where the clock of a cast stands; a POST presses it. It counts from the server's time of the press."""
    cast = find_or_404(number)
    closed = refuse_closed(request, cast)
    if closed is not None:
        return closed
    form = PressForm(sent(request))
    sheet = Sheet(form)
    return answer(sheet, lambda: _press(request, cast, form)) or show(
        request, "planning/clock.html", sheet, _context(read_clock(cast, timezone.now()))
    )


def _press(request: HttpRequest, cast: Cast, form: PressForm) -> str:
    """Write a press down, or take it back."""
    kind, is_back = form.cleaned_data["kind"], form.cleaned_data["back"]
    moments = moments_of(cast)
    if kind == Kind.POWDER and is_back and moments.invested:
        raise Refused("The last vacuum is written down. Take that back first.")
    if kind == Kind.INVESTED and not is_back and not moments.powder:
        raise Refused("Press first when the powder goes into the water.")
    if kind == Kind.METAL and is_back and moments.poured:
        raise Refused("The pour is written down. Take that back first.")
    if kind == Kind.POURED and not is_back and not moments.metal:
        raise Refused("Press first when the metal goes in.")
    if is_back:
        take_back_moment(cast, kind)
    else:
        note_moment(cast, kind, by=signed_in_user(request))
    page = "checks" if kind in (Kind.METAL, Kind.POURED) else "clock"
    return reverse(f"inventory:cast-{page}", args=[cast.number])


def _context(clock: BenchClock) -> dict[str, Any]:
    return {
        "clock": clock,
        "cast": clock.cast,
        "now": print_iso(clock.now),
        "start": print_iso(clock.moments.powder.at) if clock.moments.powder else "",
        "started": clock.moments.powder,
        "ended": clock.moments.invested,
        "left": print_stopwatch(clock.left_s if clock.line else clock.over_s),
        "lines": [(line, print_seconds(line.seconds)) for line in clock.lines],
        "whole": print_seconds(clock.working_s),
        "took": print_seconds(clock.elapsed_s),
        "over": print_seconds(clock.over_s) if clock.over_s else "",
        "section": "casts",
    }


@require_http_methods(["GET", "HEAD", "POST"])
def show_checks(request: HttpRequest, number: int) -> HttpResponse:
    """The lines that apply to this cast; a POST ticks one, or takes its tick back."""
    cast = find_or_404(number)
    closed = refuse_closed(request, cast)
    if closed is not None:
        return closed
    moments = moments_of(cast)
    checks = list_checks(cast, moments, checklist_lines())
    form = TickForm(sent(request), lines=[check.text for check in checks])
    sheet = Sheet(form)
    context = {
        "cast": cast,
        "checks": checks,
        "ticked": sum(check.tick is not None for check in checks),
        "moments": moments,
        "melt": print_seconds(moments.melt_s) if moments.poured else "",
        "flux_caution": "flux" if cast.crucible and cast.crucible.crucible_material == _GRAPHITE else "",
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


_STARTERS = tuple((line.text, ChecklistItem.When(line.when).label) for line in STARTER_CHECKLIST)


@require_safe
def show_checklist(request: HttpRequest) -> HttpResponse:
    lines = checklist_lines()[:LINES_MOST]
    context = {"lines": lines, "starters": _STARTERS, "section": "setup", "is_full": len(lines) >= LINES_MOST}
    return render(request, "setup/checklist.html", context)


class ChecklistLines(RecordPages):
    name, folder, model, form_class = "checklist", "setup/checklist/", ChecklistItem, ChecklistForm
    title, new_title = "Checklist before the pour", "A new line of the checklist"
    record_template = "setup/checklist_line.html"

    def describe(self, record: ChecklistItem) -> str:
        return "A line of the checklist"

    @property
    def list_address(self) -> str:
        return reverse("inventory:checklist")


@require_POST
@alone
def begin_with_common(request: HttpRequest) -> HttpResponse:
    """Take in the common lines, where the list is empty."""
    if checklist_lines():
        messages.warning(request, "The list has lines already. Add what is missing by hand.")
    else:
        begin_checklist(STARTER_CHECKLIST)
        messages.success(request, "The list begins with these. Change them to your own words.")
    return redirect("inventory:checklist")


@require_POST
@alone
def move_line(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a line one place up, or down."""
    lines = checklist_lines()
    here = next((place for place, line in enumerate(lines) if line.pk == pk), None)
    if here is None:
        # Somebody took it out while the page was open.
        messages.warning(request, "That line is no longer in the list.")
        return redirect("inventory:checklist")
    there = here + 1 if "down" in request.POST else here - 1
    if 0 <= there < len(lines):
        lines[here], lines[there] = lines[there], lines[here]
    order_checklist(lines)
    return redirect("inventory:checklist")


@require_POST
@alone
def remove_line(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a line out. What was ticked on a cast stays with the cast in its own words."""
    item = next((line for line in checklist_lines() if line.pk == pk), None)
    if item is not None:
        item.delete()
        messages.success(request, f"Taken out: {item}.")
    return redirect("inventory:checklist")
