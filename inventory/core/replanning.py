"""What is left of a firing, planned again from when the kiln was really turned.

A kiln that is turned by hand keeps its holds and climbs by the time from one turn to the next. So a turn that comes
late moves all that follows by as much, and one that comes early moves nothing forward: no hold gets shorter, no climb
steeper, and the pour moves by no more than it must. Moments are UTC, turns are counted in whole minutes.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, tzinfo

from studio.kit.printing import print_celsius, print_minutes, print_moment
from studio.kit.working import Step, Working, make_working

from .day_plan import DayPlan, MomentKind, Wish, WishKind
from .happenings import ORDER
from .schedule import ScheduleStep, SetPoint, compute_set_points, count_minutes
from .timetable import Moment, Timetable, compute_timetable, list_remarks

SHORT_MINUTES = 5
"""A hold that was cut short by so much is worth turning the kiln back for (a figure of ours)."""
_TURNED = (MomentKind.KILN_ON, MomentKind.SET_POINT)
_BEFORE = ORDER[: ORDER.index(MomentKind.KILN_ON)]


@dataclass(frozen=True, slots=True)
class Turn:
    """The kiln was turned to `set_c` at a moment; `place` is that of the set point, 0 the kiln going on."""

    place: int
    set_c: int
    at: datetime


@dataclass(frozen=True, slots=True)
class DueTurn:
    """One set point of the day: when it was planned, when it is due as things went, and when it was turned."""

    place: int
    set_c: int
    planned: datetime
    due: datetime
    at: datetime
    turned: datetime | None = None
    short_minutes: int = 0
    """By how much it came too soon after the turn before it."""


@dataclass(frozen=True, slots=True)
class Replanned:
    """The day as it really goes. `wished_pour` is where the pour was before anything came late."""

    timetable: Timetable
    turns: tuple[DueTurn, ...]
    wished_pour: datetime
    pour: datetime

    @property
    def late_minutes(self) -> int:
        """By how much the pour is later than wished; below zero where it is earlier."""
        return (self.pour - self.wished_pour) // timedelta(minutes=1)

    @property
    def is_followed(self) -> bool:
        """Whether anybody wrote down a turn."""
        return any(one.turned for one in self.turns)

    @property
    def following(self) -> DueTurn | None:
        """The first turn after the last that was written down."""
        last = max((one.place for one in self.turns if one.turned), default=-1)
        return next((one for one in self.turns if one.place > last), None)


def _minutes(number: int) -> timedelta:
    return timedelta(minutes=number)


def find_wished_pour(wish: Wish, plan: DayPlan) -> datetime:
    """When the pour is where nothing comes late."""
    whole = count_minutes(plan.steps, plan.kiln.room_c) if wish.kind == WishKind.KILN_ON else 0
    return wish.at.astimezone(UTC) + _minutes(whole)


def list_set_points(plan: DayPlan) -> tuple[SetPoint, ...]:
    """What the kiln of a plan is set to and when, the kiln going on first."""
    largest = None if plan.kiln.has_program else plan.kiln.largest_step_c
    return compute_set_points(plan.steps, plan.kiln.room_c, largest)


def choose_turns(points: Sequence[SetPoint], turns: Sequence[Turn]) -> dict[int, datetime]:
    """The moments of the turns that are of these set points, by place: a schedule may have been changed since."""
    return {
        one.place: one.at.astimezone(UTC)
        for one in turns
        if 0 <= one.place < len(points) and points[one.place].set_c == one.set_c
    }


def follow(wish: Wish, plan: DayPlan, turns: Sequence[Turn]) -> tuple[tuple[DueTurn, ...], datetime]:
    """Each set point as it is due or was turned, and when the pour is.

    A turn is due no sooner after the one before it than the schedule has it, and, where the pour is wished, no sooner
    than it was planned. A kiln with a program keeps its times from the moment it went on.
    """
    points = list_set_points(plan)
    done = choose_turns(points, turns)
    total = count_minutes(plan.steps, plan.kiln.room_c)
    planned_on = wish.at.astimezone(UTC) - _minutes(total if wish.kind == WishKind.POUR else 0)
    due = planned_on if wish.kind == WishKind.POUR else min(done.get(0, planned_on), planned_on)
    followed: list[DueTurn] = []
    for place, point in enumerate(points):
        if place:
            before = followed[-1]
            due = max(before.due, before.at) + _minutes(point.minute - points[place - 1].minute)
        at = done.get(place)
        if at is None and plan.kiln.has_program and place:
            at = followed[0].at + _minutes(point.minute)
        # Of a turn that nobody wrote down, no later than the next one that somebody did.
        known = [due, *(when for later, when in done.items() if later > place)]
        followed.append(
            DueTurn(
                place,
                point.set_c,
                planned_on + _minutes(point.minute),
                due,
                min(known) if at is None else at,
                done.get(place),
                _count_short(place, points, done),
            )
        )
    if not followed:
        return (), planned_on + _minutes(total)
    last = followed[-1]
    return tuple(followed), max(last.due, last.at) + _minutes(total - points[-1].minute)


def _count_short(place: int, points: Sequence[SetPoint], done: dict[int, datetime]) -> int:
    """Minutes by which a turn came too soon after the one before it, where both were written down."""
    if not place or place not in done or place - 1 not in done:
        return 0
    wanted = points[place].minute - points[place - 1].minute
    return max(0, wanted - (done[place] - done[place - 1]) // timedelta(minutes=1))


def replan(
    wish: Wish,
    plan: DayPlan,
    zone: tzinfo,
    turns: Sequence[Turn] = (),
    now: datetime | None = None,
    top_c: int | None = None,
    since: datetime | None = None,
) -> Replanned:
    """The timetable as the day really goes; where nothing was turned, or all on time, the planned one exactly.

    With `top_c` no step goes above it; what is to be done at night counts from `since` on. Raises ValueError as
    `compute_timetable` does.
    """
    wished_pour = find_wished_pour(wish, plan)
    by_schedule, _ = follow(wish, plan, ())
    if top_c is not None:
        plan = replace(plan, steps=lower_top(plan.steps, top_c, plan.kiln.room_c))
    is_followed = bool(choose_turns(list_set_points(plan), turns))
    table = compute_timetable(wish, plan, zone, None if is_followed else now, since)
    followed, pour = follow(wish, plan, turns)
    if is_followed:
        planned_pour = followed[0].planned + _minutes(table.total_minutes)
        moments = tuple(
            _move(table.moments, followed, by_schedule[0].planned, pour - planned_pour, plan, zone)
        )
        made = Replanned(table, followed, wished_pour, pour)
        table = replace(
            table,
            moments=moments,
            remarks=(*_tell(made, zone), *list_remarks(moments, plan, zone, None, since)),
            working=_work(table.working, made, zone),
        )
    return Replanned(table, followed, wished_pour, pour)


def _move(
    moments: Sequence[Moment],
    followed: Sequence[DueTurn],
    planned_on: datetime,
    late: timedelta,
    plan: DayPlan,
    zone: tzinfo,
) -> Iterator[Moment]:
    """Every moment where it really is: what is before the kiln goes with it, the rest with the pour.

    The kiln was to go on at `planned_on` by the whole schedule: a lower top that is chosen later changes no past.
    """
    turns = iter(followed)
    early = min(planned_on, followed[0].at) - followed[0].planned
    moved = []
    for moment in moments:
        if moment.kind in _TURNED:
            at = next(turns).at
        else:
            at = moment.at + (early if moment.kind in _BEFORE else late)
        clock = at.astimezone(zone)
        moved.append(replace(moment, at=at, clock=clock, at_night=plan.practice.quiet.holds(clock.time())))
    yield from sorted(moved, key=lambda one: (one.at, ORDER.index(one.kind)))


def _tell(made: Replanned, zone: tzinfo) -> Iterator[str]:
    late = made.late_minutes
    if late:
        way = "later" if late > 0 else "earlier"
        yield (
            f"The pour moves from {print_moment(made.wished_pour.astimezone(zone))} to "
            f"{print_moment(made.pour.astimezone(zone))}, {print_minutes(abs(late))} {way}: what is left keeps its "
            "full holds and climbs."
        )
    for one, after in zip(made.turns, [*made.turns[1:], None], strict=True):
        if one.short_minutes:
            yield (
                f"The kiln was set to {print_celsius(one.set_c)} {print_minutes(one.short_minutes)} too soon: what was "
                "before it stays that much shorter. What follows is not moved forward."
            )
        if one.short_minutes >= SHORT_MINUTES and (after is None or not after.turned):
            yield "If that was just now, turn it back and take it back here: then nothing is cut short."


def _work(working: Working, made: Replanned, zone: tzinfo) -> Working:
    """The hours as they were planned, and what each turn made of them."""
    steps = []
    for one in made.turns:
        if one.turned:
            gap = (one.turned - one.due) // timedelta(minutes=1)
            said = "on time" if not gap else f"{print_minutes(abs(gap))} {'late' if gap > 0 else 'early'}"
            due = print_moment(one.due.astimezone(zone))
            steps.append(
                Step(
                    f"set to {print_celsius(one.set_c)} on {print_moment(one.turned.astimezone(zone))}, due {due}",
                    said,
                )
            )
    pour = print_moment(made.pour.astimezone(zone))
    return make_working(
        working.title,
        f"{working.formula}; a turn that comes late moves what follows, one that comes early does not",
        *working.givens,
        *working.steps,
        *steps,
        Step("so the pour is", pour),
        source=working.source,
        notes=working.notes,
    )


def lower_top(steps: Sequence[ScheduleStep], top_c: int, start_c: int) -> tuple[ScheduleStep, ...]:
    """The same schedule with no step above `top_c`: holds as they are, climbs and falls no steeper than they were."""
    lowered: list[ScheduleStep] = []
    from_c, lower_from_c = start_c, start_c
    for step in steps:
        target_c = min(step.target_c, top_c)
        minutes, degrees = step.climb_minutes, abs(step.target_c - from_c)
        if minutes and degrees:
            minutes = -(-minutes * abs(target_c - lower_from_c) // degrees)
        lowered.append(replace(step, target_c=target_c, climb_minutes=minutes))
        from_c, lower_from_c = step.target_c, target_c
    return tuple(lowered)
