"""The timetable of a casting day: from the wish to pour, or to put the kiln on, to every moment of the work.

Moments are UTC, so that they can be compared and subtracted; `clock` is the same moment as the studio's clock
shows it. All sums are in real minutes: a firing keeps its hours through a night in which the clocks are changed.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

from studio.kit.printing import print_minutes, print_moment, print_seconds
from studio.kit.working import Given, Step, Working, make_working

from .clock import QuietHours, find_clock_change, round_up_to_minute
from .day_moments import Happening, MomentKind, list_happenings
from .day_plan import DayPlan, Wish, WishKind
from .schedule import compute_total_minutes

CRUCIBLE_LONG_MINUTES = 60
"""Metal that waits longer than this in the crucible is remarked upon."""


@dataclass(frozen=True, slots=True)
class Moment:
    """One thing that happens or is done. `at` is UTC, `clock` the same on the studio's clock."""

    at: datetime
    clock: datetime
    kind: MomentKind
    sentence: str
    set_point_c: int | None = None
    by_hand: bool = False
    at_night: bool = False


@dataclass(frozen=True, slots=True)
class Timetable:
    """The day in order, what is worth knowing about it, and how the hours add up.

    `earliest_pour` is set when the day would have begun before now; `remarks` then begins with the sentence.
    """

    moments: tuple[Moment, ...]
    total_minutes: int
    remarks: tuple[str, ...]
    working: Working
    earliest_pour: datetime | None = None

    def find(self, kind: MomentKind) -> Moment | None:
        """The first moment of a kind."""
        return next((moment for moment in self.moments if moment.kind == kind), None)


def compute_timetable(wish: Wish, plan: DayPlan, zone: tzinfo, now: datetime | None = None) -> Timetable:
    """Every moment of the day in order. Hold the plan against its checks first.

    Raises ValueError for a wish without a zone or a schedule without steps.
    """
    if wish.at.tzinfo is None or not plan.steps:
        raise ValueError("a timetable needs a moment in a zone and a schedule")
    total, hours = compute_total_minutes(plan.steps, plan.kiln.room_c)
    kiln_on = wish.at.astimezone(UTC)
    if wish.kind == WishKind.POUR:
        kiln_on -= timedelta(minutes=total)
    happenings = list_happenings(plan)
    moments = tuple(_place(one, kiln_on, zone, plan.practice.quiet) for one in happenings)
    earliest = _find_earliest_pour(moments, kiln_on + timedelta(minutes=total), now)
    remarks = _list_remarks(moments, plan, zone, earliest)
    return Timetable(
        moments=moments,
        total_minutes=total,
        remarks=tuple(remarks),
        working=_work(wish, plan, hours, moments, zone),
        earliest_pour=earliest,
    )


def _place(one: Happening, kiln_on: datetime, zone: tzinfo, quiet: QuietHours) -> Moment:
    at = kiln_on + timedelta(seconds=one.second)
    clock = at.astimezone(zone)
    return Moment(
        at=at,
        clock=clock,
        kind=one.kind,
        sentence=one.sentence,
        set_point_c=one.set_point_c,
        by_hand=one.by_hand,
        at_night=quiet.holds(clock.time()),
    )


def _find_earliest_pour(moments: Sequence[Moment], pour: datetime, now: datetime | None) -> datetime | None:
    """When the metal could be poured if the work began now; None when there is still time."""
    if now is None or moments[0].at >= now:
        return None
    return round_up_to_minute(now) + (pour - moments[0].at)


def _list_remarks(
    moments: Sequence[Moment], plan: DayPlan, zone: tzinfo, earliest: datetime | None
) -> Iterator[str]:
    first, last = moments[0], moments[-1]
    if earliest is not None:
        yield (
            f"This would have begun on {print_moment(first.clock)}, which is past. If you begin now, the earliest pour "
            f"is {print_moment(earliest.astimezone(zone))}."
        )
    if change := find_clock_change(first.at, last.at, zone):
        yield change
    night = [moment for moment in moments if moment.by_hand and moment.at_night]
    if night:
        many = "1 thing is" if len(night) == 1 else f"{len(night)} things are"
        yield (
            f"{many} done by hand between {plan.practice.quiet}, the first on {print_moment(night[0].clock)}. "
            "Move the pour, or be there: a kiln is not left alone."
        )
    yield from _tell_flasks(plan)
    waits = _count_crucible_minutes(moments)
    if waits > CRUCIBLE_LONG_MINUTES:
        yield (
            f"The metal would be in the crucible for {print_minutes(waits)} before the pour. "
            "Shorten the last hold, or put the metal in later."
        )


def _tell_flasks(plan: DayPlan) -> Iterator[str]:
    """Where the kiln does not end at what a flask's alloy asks for, and that two flasks are not poured at once."""
    if len(plan.flasks) > 1:
        yield (
            f"{len(plan.flasks)} flasks come out of one kiln: each is poured after the one before it, and the kiln "
            "holds the others meanwhile. Their lines stand at the first pour."
        )
    for flask in plan.flasks:
        if said := flask.heats.check_flask(plan.steps[-1].target_c, flask.alloy):
            yield said


def _count_crucible_minutes(moments: Sequence[Moment]) -> int:
    at = {moment.kind: moment.at for moment in moments}
    return (at[MomentKind.POUR] - at[MomentKind.CRUCIBLE]) // timedelta(minutes=1)


def _work(wish: Wish, plan: DayPlan, hours: Working, moments: Sequence[Moment], zone: tzinfo) -> Working:
    """How the hours add up, from the wish to the first thing that is done."""
    clock = {moment.kind: print_moment(moment.clock) for moment in moments}
    kiln_on, pour = clock[MomentKind.KILN_ON], clock[MomentKind.POUR]
    wished = print_moment(wish.at.astimezone(zone), with_year=True)
    if wish.kind == WishKind.POUR:
        formula, steps = (
            "the pour, less the hours of the schedule",
            [Step(f"{pour} less {hours.result}", kiln_on)],
        )
    else:
        formula, steps = (
            "the kiln on, and the hours of the schedule",
            [Step(f"{kiln_on} and {hours.result}", pour)],
        )
    givens = [
        Given("pour" if wish.kind == WishKind.POUR else "kiln on", wished, "your wish"),
        Given("hours of the schedule", hours.result, "the schedule"),
    ]
    if plan.phases:
        formula += "; before it the flasks stand, and before that they are invested"
        work, stand = print_seconds(plan.investing_s), print_minutes(plan.practice.standing_minutes)
        givens += [
            Given("mixing, vacuum and pouring the flasks", work, "the working time"),
            Given("the flasks stand", stand, "the casting day"),
        ]
        steps += [Step(f"{kiln_on} less {stand} and {work}", print_moment(moments[0].clock))]
    return make_working(
        "How the hours add up",
        formula,
        *givens,
        *hours.steps,
        *steps,
        result=f"kiln on {kiln_on}, pour {pour}",
        notes=("All times are real hours, also in a night in which the clocks are changed.",),
    )
