"""A casting day on the phone as it really goes, its calendar file, and what is pressed beside its kiln."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from inventory.calendar_file import (
    ALARM_MINUTES_MOST,
    CONTENT_TYPE,
    CalendarEvent,
    cancel_event,
    list_events,
    write_calendar,
)
from inventory.core.timetable import print_iso, print_left
from inventory.forms.sheet import Sheet
from inventory.forms.turning import TopForm, TurnForm, read_clock
from inventory.posting.refusal import Refused
from inventory.posting.turning import ENDED, note_turn, set_top, take_back_turn, take_events
from inventory.queries.days import DaySheet, charge_of, is_invested, read_day
from inventory.queries.occupied import Taken
from inventory.queries.plans import plan_cautions
from inventory.queries.turning import Standing
from studio.kit.export import attachment
from studio.kit.printing import print_celsius
from studio.kit.views import or_404

from .saving import ButtonForm, alone, answer, show, signed_in_user

NO_DAY = "There is no such casting day."

AGAIN = "Take the day into your calendar again: its times move there."


@never_cache
@require_safe
def show_day(request: HttpRequest, pk: int) -> HttpResponse:
    return show_day_sheet(request, find_day_sheet(pk))


def find_day_sheet(pk: int) -> DaySheet:
    return or_404(read_day(pk), NO_DAY)


def show_day_sheet(request: HttpRequest, day: DaySheet, sheet: Sheet | None = None) -> HttpResponse:
    standing = Standing(day)
    current, following = standing.around
    seconds = int((following.at - day.now).total_seconds()) if following else 0
    context: dict[str, Any] = {
        "sheet": day,
        "day": day.day,
        "standing": standing,
        "flasks": [(plan, charge_of(plan), is_invested(plan), day.pour_of(plan)) for plan in day.plans],
        "now": print_iso(day.now),
        "current": current,
        "following": following,
        "left": print_left(abs(seconds)) if following else "",
        "turn_form": sheet.form if sheet and isinstance(sheet.form, TurnForm) else _make_form(standing),
        "taken": Taken(day.day.wish_at).look_at(day),
        "press": ButtonForm(auto_id=False),
        "mistakes": sheet.mistakes if sheet else [],
        "cautions": ("powder", "burnout", "pour", *plan_cautions(day.flasks), "flux", "quench"),
        "section": "casts",
    }
    return show(request, "planning/day.html", sheet, context)


def _make_form(standing: Standing, data: Any = None) -> TurnForm:
    """What can be written down; a set point that was written down already stays a thing to send, from another phone."""
    shown = standing.hand_turns if data is not None else standing.open_turns
    turns = [(turn.place, f"{line.when}: {_name(turn.place, turn.set_c)}") for line, turn in shown]
    return TurnForm(data, turns=turns)


def _name(place: int, set_c: int) -> str:
    return f"set to {print_celsius(set_c)}" if place else "kiln on"


@require_POST
@alone
def turn_kiln(request: HttpRequest, pk: int) -> HttpResponse:
    """The kiln was turned, or that was pressed by mistake."""
    day = find_day_sheet(pk)
    standing = Standing(day)
    form = _make_form(standing, request.POST)
    return _answer(request, day, Sheet(form), lambda: _turn(request, standing, form))


def _turn(request: HttpRequest, standing: Standing, form: TurnForm) -> None:
    if not standing.can_turn:
        raise Refused(ENDED)
    day, place = standing.sheet.day, int(form.cleaned_data["place"])
    turn = next(turn for _, turn in standing.hand_turns if turn.place == place)
    what = capfirst(_name(place, turn.set_c))
    if form.cleaned_data["back"]:
        if take_back_turn(day, place):
            messages.success(request, f"{what}: taken back. {AGAIN}")
    elif note_turn(
        day,
        place,
        turn.set_c,
        read_clock(form, standing.sheet.now),
        signed_in_user(request),
        form.cleaned_data["meter"],
        form.cleaned_data["seen"],
    ):
        messages.success(request, f"{what}: written down. {AGAIN}")


@require_POST
@alone
def choose_top(request: HttpRequest, pk: int) -> HttpResponse:
    """Burn out at the lower heat that is offered so that the pour stays, or by the schedule again."""
    day = find_day_sheet(pk)
    form = TopForm(request.POST, offered_c=day.lower_top.top_c if day.lower_top else None)
    return _answer(request, day, Sheet(form), lambda: _choose(request, day, form))


def _choose(request: HttpRequest, day: DaySheet, form: TopForm) -> None:
    top_c = form.cleaned_data["top_c"]
    if not top_c and not day.can_go_by_schedule:
        raise Refused("The climb to the lower top has begun: it stays as it is.")
    set_top(day.day, int(top_c) if top_c else None)
    messages.success(
        request,
        (f"The burnout goes to {print_celsius(int(top_c))}." if top_c else "The schedule counts again.")
        + f" {AGAIN}",
    )


def _answer(request: HttpRequest, day: DaySheet, sheet: Sheet, save: Callable[[], None]) -> HttpResponse:
    address = reverse("inventory:day", args=[day.day.pk])

    def do() -> str:
        save()
        return address

    return answer(sheet, do) or show_day_sheet(request, day, sheet)


@require_safe
def take_calendar(request: HttpRequest, pk: int) -> HttpResponse:
    """The day as a calendar file; where it has no hours, its page says what to do.

    What a calendar took in before and the day has no more is cancelled in it.
    """
    found, events, gone = take_events(pk, _list_events)
    day = or_404(found, NO_DAY)
    if not events and not gone:
        messages.warning(request, "This day has no timetable yet, so there is nothing for a calendar.")
        return redirect("inventory:day", pk)
    cancelled = [cancel_event(one.uid, day.day.revision, one.at, day.title) for one in gone]
    name = f"casting-day-{timezone.localdate(day.day.wish_at):%Y-%m-%d}.ics"
    return attachment(write_calendar([*events, *cancelled], day.now), name, CONTENT_TYPE)


def _list_events(day: DaySheet, revision: int) -> tuple[CalendarEvent, ...]:
    if day.timetable is None:
        return ()
    return list_events(
        day.timetable,
        str(day.day.key),
        day.title,
        revision,
        min(day.practice.alarm_before_minutes, ALARM_MINUTES_MOST),
    )
