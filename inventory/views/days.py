"""A casting day: its page for the phone, and its calendar file."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from inventory.calendar_file import ALARM_MINUTES_MOST, CONTENT_TYPE, list_events, write_calendar
from inventory.core.day_lines import find_next, print_iso, print_left
from inventory.queries.cautions import plan_cautions
from inventory.queries.days import DaySheet, charge_of, is_invested, read_day
from studio.kit.export import attachment


@never_cache
@require_safe
def show_day(request: HttpRequest, pk: int) -> HttpResponse:
    sheet = _find(pk)
    current, following = find_next(sheet.lines, sheet.now)
    context = {
        "sheet": sheet,
        "day": sheet.day,
        "flasks": [(plan, charge_of(plan), is_invested(plan)) for plan in sheet.plans],
        "now": print_iso(sheet.now),
        "current": current,
        "following": following,
        "left": print_left(int((following.at - sheet.now).total_seconds())) if following else "",
        "cautions": ("powder", "burnout", "pour", *plan_cautions(sheet.flasks), "flux", "quench"),
        "section": "casts",
    }
    return render(request, "planning/day.html", context)


@require_safe
def take_calendar(request: HttpRequest, pk: int) -> HttpResponse:
    """The day as a calendar file; where it has no hours, its page says what to do."""
    sheet = _find(pk)
    if sheet.timetable is None:
        messages.warning(request, "This day has no timetable yet, so there is nothing for a calendar.")
        return redirect("inventory:day", pk)
    events = list_events(
        sheet.timetable,
        str(sheet.day.key),
        sheet.title,
        sheet.day.revision,
        min(sheet.practice.alarm_before_minutes, ALARM_MINUTES_MOST),
    )
    name = f"casting-day-{timezone.localdate(sheet.day.wish_at):%Y-%m-%d}.ics"
    return attachment(write_calendar(events, sheet.now), name, CONTENT_TYPE)


def _find(pk: int) -> DaySheet:
    sheet = read_day(pk)
    if sheet is None:
        raise Http404("There is no such casting day.")
    return sheet
