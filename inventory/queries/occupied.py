"""Reads of what casting days take around a moment: what meets, when a day fits, and the pours that let one sleep.

However many days there are, the questions stay the same; days farther off than `HORIZON` are not looked at.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property

from django.db.models import Q
from django.utils import timezone

from inventory.core.day_plan import MomentKind
from inventory.core.occupied import (
    FARTHEST,
    PERSON,
    QUARTER,
    Clash,
    FlaskThings,
    Span,
    Thing,
    ThingKind,
    explain_free,
    find_blocked,
    find_clashes,
    find_free_shift,
    list_clashes,
    list_spans,
    tell_clashes,
    tell_twice,
)
from inventory.core.quiet_pours import Asleep, choose_offers, list_quiet_pours
from inventory.core.timetable import Timetable
from inventory.models import CastingDay, DayPractice, Equipment, Firing, Plan
from studio.kit.printing import print_day, print_minutes
from studio.kit.working import Working

from .days import DaySheet, read_days
from .plans import PlanDraft
from .studio import quiet_of

#: As far as a day is moved by itself, and the longest that a firing and its standing take.
HORIZON = FARTHEST + timedelta(days=9)
TWICE = "A flask cannot stand in one firing twice: {flask} is taken by {title}. Choose another flask, or another day."


@dataclass(frozen=True)
class ClashLine:
    """What is taken, in a sentence, and the day that has it."""

    sentence: str
    day: int


@dataclass(frozen=True)
class DayClashes:
    """What of a day meets other days, and the nearest time at which the whole day fits, if there is one."""

    lines: tuple[ClashLine, ...] = ()
    remarks: tuple[str, ...] = ()
    free_at: datetime | None = None
    quarters: int = 0
    working: Working | None = None
    #: How much of what is done by hand would then fall in the studio's night.
    by_night: int = 0
    #: Where some would, the nearest time that is free and leaves the night alone.
    quiet_at: datetime | None = None
    quiet_quarters: int = 0


@dataclass(frozen=True)
class QuietPours:
    """The pours that are offered so that one sleeps: the ends of each run of quarter hours."""

    offers: tuple[datetime, ...]
    are_taken: bool = False
    """There are such pours, but each would meet another day."""


class Taken:
    """What every open day around some moments takes, read once; `read` are these and the days of `also`."""

    def __init__(self, *around: datetime, also: Iterable[int] = ()) -> None:
        self.now = timezone.now()
        self.zone = timezone.get_current_timezone()
        near = _days(around)
        self.read = read_days([*near, *also])
        self.sheets = {key: self.read[key] for key in near if key in self.read}

    @cached_property
    def spans(self) -> tuple[Span, ...]:
        """What is taken from now on. What a firing that is written down took is free; its flasks are, once weighed."""
        found = (span for sheet in self.sheets.values() for span in spans_of(sheet))
        return tuple(span for span in found if span.end > self.now)

    def without(self, day: int) -> list[Span]:
        return [span for span in self.spans if span.day != day]

    def look_at(self, sheet: DaySheet) -> DayClashes:
        """A saved day among the others."""
        if sheet.timetable is None or _is_over(sheet):
            return DayClashes()
        # Its work has begun: what it needs is said, but nobody moves what stands in the kiln.
        may_move = not has_begun(sheet)
        found = self.compare(spans_of(sheet), sheet.day.pk, sheet.day.wish_at, may_move)
        remarks = (*_tell_in_turn(sheet), *_tell_firings(sheet))
        shift = found.free_at - sheet.day.wish_at if found.free_at else timedelta(0)
        by_night = self._count_by_night(sheet, shift) if found.free_at else 0
        found = replace(found, remarks=remarks, by_night=by_night)
        quiet = self._find_quiet(sheet) if by_night and found.quarters else None
        return (
            found
            if quiet is None
            else replace(found, quiet_at=sheet.day.wish_at + quiet, quiet_quarters=quiet // QUARTER)
        )

    def _find_quiet(self, sheet: DaySheet) -> timedelta | None:
        """The least move of a whole day after which it meets no other and nothing is done by hand at night."""
        mine = spans_of(sheet)
        blocked = find_blocked(mine, self.without(sheet.day.pk))
        least = self.now + QUARTER - min(span.begin for span in mine)
        shifts = (way * number * QUARTER for number in range(1, FARTHEST // QUARTER + 1) for way in (1, -1))
        free = (shift for shift in shifts if shift >= least and not blocked.holds(shift))
        return next((shift for shift in free if not self._count_by_night(sheet, shift)), None)

    def _count_by_night(self, sheet: DaySheet, shift: timedelta) -> int:
        quiet = quiet_of(sheet.practice)
        hands = (one.at + shift for one in sheet.timetable.moments if one.by_hand) if sheet.timetable else ()
        return sum(quiet.holds(at.astimezone(self.zone).time()) for at in hands)

    def look_at_draft(
        self, draft: PlanDraft, table: Timetable | None, day: CastingDay | None, plan: Plan | None
    ) -> DayClashes:
        """A plan that is being written, in the day that it stands in or is put into."""
        key = day.pk if day is not None else 0
        beside = [one for one in self.sheets[key].flasks if one != plan] if key in self.sheets else []
        things = _all_things([draft, *beside])
        mine = list_spans(table.moments, key, _thing(draft.day.kiln), things) if table else ()
        found = self.compare(mine, key, draft.day.wish_at, may_move=False)
        twice = tuple(ClashLine(say_twice(one), key) for one in beside if one.flask_id == draft.flask.pk)
        return replace(found, lines=(*twice, *found.lines))

    def compare(self, mine: Sequence[Span], day: int, wish_at: datetime, may_move: bool) -> DayClashes:
        others = self.without(day)
        clashes = list_clashes([span for span in mine if span.end > self.now], others)
        if not clashes:
            return DayClashes()
        days = dict.fromkeys(clash.day for clash in clashes)
        lines = tuple(ClashLine(self._tell(key, clashes), key) for key in days)
        # A quarter of an hour to read it and to press.
        shift = find_free_shift(mine, others, self.now + QUARTER)
        if shift is None:
            return DayClashes(lines)
        return DayClashes(
            lines,
            (),
            wish_at + shift,
            shift // QUARTER if may_move else 0,
            explain_free(clashes, wish_at, shift, self.zone, self.now),
        )

    def _tell(self, day: int, clashes: Sequence[Clash]) -> str:
        own = [clash for clash in clashes if clash.day == day]
        return tell_clashes(own, self.sheets[day].title, self.zone)

    def list_quiet(
        self, draft: PlanDraft, table: Timetable, practice: DayPractice, plan: Plan | None
    ) -> QuietPours:
        """Pours of the week by which nothing is done by hand at night and nothing is wanted twice."""
        key = plan.day_id if plan is not None else 0
        mine = list_spans(table.moments, key, _thing(draft.day.kiln), _all_things([draft]))
        pour = table.find(MomentKind.POUR)
        pours = list_quiet_pours(
            Asleep.of(table.moments),
            quiet_of(practice),
            self.zone,
            self.now,
            FARTHEST.days,
        )
        blocked = find_blocked(mine, self.without(key))
        free = [one for one in pours if pour is not None and not blocked.holds(one - pour.at)]
        return QuietPours(choose_offers(free), are_taken=bool(pours) and not free)


def clashes_of(plan: Plan) -> DayClashes:
    """What the day of a plan meets; nothing where nobody may still read it of an open day."""
    taken = Taken(plan.day.wish_at)
    sheet = taken.sheets.get(plan.day_id)
    return taken.look_at(sheet) if sheet is not None else DayClashes()


def first_twice(taken: Taken) -> ClashLine | None:
    """The first thing from now on that two days want at once, in one line; None where there is none.

    What a person is to do at two places is told of only where nothing else is wanted twice.
    """
    pairs = sorted(find_clashes(taken.spans), key=lambda pair: pair[0].thing == PERSON)
    if not pairs:
        return None
    # Of all that the first two days want twice the greatest, as on their own pages: the kiln before a pump.
    greatest = min((pair for pair in pairs if _days_of(pair) == _days_of(pairs[0])), key=_rank)
    one, two = sorted(greatest, key=lambda span: span.day)
    more = len({(first.day, second.day) for first, second in pairs}) - 1
    names = (taken.sheets[one.day].title, taken.sheets[two.day].title)
    begin = max(one.begin, two.begin)
    later = one.day if has_begun(taken.sheets[two.day]) else two.day
    return ClashLine(tell_twice(one.thing, names, begin, taken.zone, more), later)


def _days_of(pair: tuple[Span, Span]) -> set[int]:
    return {span.day for span in pair}


def _rank(pair: tuple[Span, Span]) -> int:
    return [*ThingKind].index(pair[0].thing.kind)


def _days(around: Iterable[datetime]) -> list[int]:
    """The keys of those with a flask, in the order of their wishes."""
    near = Q()
    for moment in around:
        near |= Q(wish_at__range=(moment - HORIZON, moment + HORIZON))
    found = CastingDay.objects.filter(near, plans__dropped=False).order_by("wish_at", "pk").distinct()
    return list(found.values_list("pk", flat=True))


def _is_over(sheet: DaySheet) -> bool:
    """Whether every cast of the day is weighed out."""
    return all(plan.cast is not None and plan.cast.is_closed for plan in sheet.flasks)


def spans_of(sheet: DaySheet) -> tuple[Span, ...]:
    """What a saved day takes; nothing where it has no timetable, or is over."""
    day, table = sheet.day, sheet.timetable
    if table is None or _is_over(sheet):
        return ()
    spans = list_spans(table.moments, day.pk, _thing(day.kiln), _all_things(sheet.flasks))
    if not day.is_fired:
        return spans
    waiting = {plan.flask_id for plan in sheet.flasks if plan.cast is None or not plan.cast.is_closed}
    return tuple(span for span in spans if span.thing.kind == ThingKind.FLASK and span.thing.key in waiting)


def _thing(equipment: Equipment) -> Thing:
    return Thing(ThingKind(equipment.kind), equipment.pk, equipment.name)


def _things(plan: Plan | PlanDraft) -> FlaskThings:
    others = (plan.crucible, plan.machine, plan.pump)
    return FlaskThings(_thing(plan.flask), *(_thing(one) if one is not None else None for one in others))


def _all_things(plans: Sequence[Plan | PlanDraft]) -> list[FlaskThings]:
    return [_things(plan) for plan in plans]


def say_twice(plan: Plan) -> str:
    """That the flask of a plan cannot be had for another of its day."""
    return TWICE.format(flask=plan.flask, title=plan.title)


def has_begun(sheet: DaySheet) -> bool:
    """Whether a cast of the day was begun, or its kiln is on or was turned: then it is not moved as a whole."""
    return sheet.is_begun or bool(sheet.day.turned)


def _tell_in_turn(sheet: DaySheet) -> tuple[str, ...]:
    """Crucibles that several flasks of one day are melted in, in the order of their pours."""
    by_crucible: dict[Equipment, list[tuple[datetime, int, str]]] = {}
    for place, plan in enumerate(sheet.flasks):
        pour = sheet.timetable.find(MomentKind.POUR, place) if sheet.timetable else None
        if plan.crucible is not None and pour is not None:
            by_crucible.setdefault(plan.crucible, []).append((pour.at, place, plan.title))
    return tuple(
        f"{crucible} is used in turn: {', then '.join(title for _, _, title in sorted(pours))}."
        for crucible, pours in by_crucible.items()
        if len(pours) > 1
    )


def _tell_firings(sheet: DaySheet) -> tuple[str, ...]:
    """Firings of the kiln that are written down for a day of this one, or go on, and belong to no plan."""
    on = sheet.timetable.find(MomentKind.KILN_ON) if sheet.timetable else None
    today = timezone.localdate(sheet.now)
    if sheet.day.firing_id is not None or on is None or timezone.localdate(on.at) > today:
        return ()
    days = (timezone.localdate(on.at), today)
    found = Firing.objects.filter(kiln=sheet.day.kiln_id, day__range=days, days=None)
    return tuple(_tell_firing(sheet.day.kiln, one) for one in found.order_by("day", "pk")[:3])


def _tell_firing(kiln: Equipment, firing: Firing) -> str:
    if firing.minutes is None:
        return f"{kiln} is on for firing {firing.pk}, which belongs to no plan."
    return (
        f"A firing of {kiln} is written down for {print_day(firing.day)} already: firing {firing.pk}, "
        f"{print_minutes(firing.minutes)}. If it is this one, choose it in the step of its cast."
    )
