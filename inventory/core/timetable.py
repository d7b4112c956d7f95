"""The timetable of a casting day, from the wish to every moment of the work, and its lines to read.

Moments are UTC, so that they can be compared and subtracted; `clock` is the same moment as the studio's clock
shows it. All sums are in real minutes: a firing keeps its hours through a night in which the clocks are changed.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

from studio.kit.printing import SPACE, print_day, print_minutes, print_moment, print_seconds
from studio.kit.units import MINUTES_PER_HOUR, SECONDS_PER_MINUTE
from studio.kit.working import Given, Step, Working, make_working

from .clock import QuietHours, find_clock_change, round_up_to_minute
from .day_plan import DayPlan, Happening, MomentKind, Wish, WishKind
from .happenings import list_happenings, list_pour_turns
from .pour_words import find_hold_minutes, tell_pours, work_queue
from .schedule import compute_total_minutes, tell_slower


@dataclass(frozen=True, slots=True)
class Moment:
    """One thing that happens or is done. `at` is UTC, `clock` the same on the studio's clock.

    `flask` is the place of the flask that it is for in the plan of the day; None where it is for all.
    """

    at: datetime
    clock: datetime
    kind: MomentKind
    sentence: str
    set_point_c: int | None = None
    by_hand: bool = False
    at_night: bool = False
    flask: int | None = None


@dataclass(frozen=True, slots=True)
class Timetable:
    """The day in order, what is worth knowing about it, and how the hours add up.

    `earliest_pour` is set when the day would have begun before now; `remarks` then begins with the sentence. Several
    flasks are poured in turn: the kiln holds `queue_minutes` longer than `total_minutes`, and `queue` says why.
    """

    moments: tuple[Moment, ...]
    total_minutes: int
    remarks: tuple[str, ...]
    working: Working
    earliest_pour: datetime | None = None
    queue_minutes: int = 0
    queue: Working | None = None

    def find(self, kind: MomentKind, flask: int | None = None) -> Moment | None:
        """The first moment of a kind; with `flask`, none that is for another flask."""
        others = {None, flask}
        found = (moment for moment in self.moments if moment.kind == kind)
        return next((moment for moment in found if flask is None or moment.flask in others), None)


def compute_timetable(
    wish: Wish, plan: DayPlan, zone: tzinfo, now: datetime | None = None, since: datetime | None = None
) -> Timetable:
    """Every moment of the day in order. Hold the plan against its checks first.

    `now` where it is news that the day would have begun before it; the remarks speak of what comes after `since`.
    Raises ValueError for a wish without a zone or a schedule without steps.
    """
    if wish.at.tzinfo is None or not plan.steps:
        raise ValueError("a timetable needs a moment in a zone and a schedule")
    total, hours = compute_total_minutes(plan.steps, plan.kiln.room_c)
    kiln_on = wish.at.astimezone(UTC)
    if wish.kind == WishKind.POUR:
        kiln_on -= timedelta(minutes=total)
    happenings, turns = list_happenings(plan), list_pour_turns(plan)
    moments = tuple(_place(one, kiln_on, zone, plan.practice.quiet) for one in happenings)
    earliest = None
    if now is not None and moments[0].at < now:
        earliest = round_up_to_minute(now) + (kiln_on + timedelta(minutes=total) - moments[0].at)
    remarks = list_remarks(moments, plan, zone, earliest, since)
    return Timetable(
        moments=moments,
        total_minutes=total,
        remarks=tuple(remarks),
        working=_work(wish, plan, hours, moments, zone),
        earliest_pour=earliest,
        queue_minutes=find_hold_minutes(turns),
        queue=work_queue(plan, turns),
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
        flask=one.flask,
    )


def list_remarks(
    moments: Sequence[Moment],
    plan: DayPlan,
    zone: tzinfo,
    earliest: datetime | None,
    since: datetime | None = None,
) -> Iterator[str]:
    first, last = moments[0], moments[-1]
    if earliest is not None:
        yield (
            f"The first step was due on {print_moment(first.clock)}, which is past. If it is not done yet, the "
            f"earliest pour is {print_moment(earliest.astimezone(zone))}."
        )
    if change := find_clock_change(first.at, last.at, zone):
        yield change
    coming = (moment for moment in moments if since is None or moment.at >= since)
    night = [moment for moment in coming if moment.by_hand and moment.at_night]
    if night:
        many = "1 thing is" if len(night) == 1 else f"{len(night)} things are"
        yield (
            f"{many} done by hand between {plan.practice.quiet}, the first on {print_moment(night[0].clock)}. "
            "Move the pour, or be there: a kiln is not left alone."
        )
    yield from tell_slower(plan.steps, plan.kiln.room_c)
    yield from tell_pours(plan, list_pour_turns(plan))


def _work(wish: Wish, plan: DayPlan, hours: Working, moments: Sequence[Moment], zone: tzinfo) -> Working:
    """How the hours add up, from the wish to the first thing that is done."""
    # Of several pours the first is the one that was wished.
    clock = {moment.kind: print_moment(moment.clock) for moment in reversed(moments)}
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


SECONDS_PER_HOUR = SECONDS_PER_MINUTE * MINUTES_PER_HOUR
HOURS_PER_DAY = 24
DAYS_FROM_HOURS = 48
_BY_KILN = (MomentKind.SET_POINT, MomentKind.FLASK_READY)


@dataclass(frozen=True, slots=True)
class DayLine:
    """One line: `at` is UTC, `day` and `clock` are what the studio's wall shows then."""

    at: datetime
    kind: MomentKind
    day: str
    clock: str
    is_new_day: bool
    sentence: str
    set_point_c: int | None
    by_whom: str
    at_night: bool

    @property
    def when(self) -> str:
        return f"{self.day},{SPACE}{self.clock}"


def list_lines(timetable: Timetable) -> tuple[DayLine, ...]:
    """Every moment in order."""
    lines: list[DayLine] = []
    for moment in timetable.moments:
        day = print_day(moment.clock)
        lines.append(
            DayLine(
                at=moment.at,
                kind=moment.kind,
                day=day,
                clock=print_clock(moment.clock),
                is_new_day=not lines or lines[-1].day != day,
                sentence=moment.sentence,
                set_point_c=moment.set_point_c,
                by_whom=_say_who(moment),
                at_night=moment.by_hand and moment.at_night,
            )
        )
    return tuple(lines)


def _say_who(moment: Moment) -> str:
    if moment.by_hand:
        return "by hand"
    return "by the kiln" if moment.kind in _BY_KILN else ""


def print_clock(clock: datetime) -> str:
    """ "06:10"; with its zone where the wall shows that time twice, in the night when the clocks go back."""
    first, second = clock.replace(fold=0).utcoffset(), clock.replace(fold=1).utcoffset()
    comes_twice = first is not None and second is not None and first > second
    return f"{clock:%H:%M}{SPACE}{clock.tzname()}" if comes_twice else f"{clock:%H:%M}"


def find_next(lines: Sequence[DayLine], now: datetime) -> tuple[DayLine | None, DayLine | None]:
    """What is going on, and what comes next; None before the first and after the last."""
    past = [line for line in lines if line.at <= now]
    coming = [line for line in lines if line.at > now]
    return (past[-1] if past else None), (coming[0] if coming else None)


def print_left(seconds: int) -> str:
    """How long until something: "2 days 4 h", "3 h 20 min", "12 min 30 s". The page's script counts on from it."""
    seconds = max(0, seconds)
    hours = seconds // SECONDS_PER_HOUR
    if hours >= DAYS_FROM_HOURS:
        days, rest = divmod(hours, HOURS_PER_DAY)
        return f"{days}{SPACE}days" + (f"{SPACE}{rest}{SPACE}h" if rest else "")
    if hours:
        return print_minutes(seconds // SECONDS_PER_MINUTE)
    return print_seconds(seconds)


def print_iso(moment: datetime) -> str:
    """A moment for a script: with thousandths of a second, which is all that every browser reads."""
    return moment.isoformat(timespec="milliseconds")


def print_stopwatch(seconds: int) -> str:
    """A short time as the clock at the bench shows it: "3:07"."""
    minutes, rest = divmod(max(0, seconds), SECONDS_PER_MINUTE)
    return f"{minutes}:{rest:02d}"
