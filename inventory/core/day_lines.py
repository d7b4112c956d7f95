"""The timetable of a casting day as lines to read: page, paper and phone all show these."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from studio.kit.printing import SPACE, print_day, print_minutes, print_seconds
from studio.kit.units import MINUTES_PER_HOUR, SECONDS_PER_MINUTE

from .day_moments import MomentKind
from .timetable import Moment, Timetable

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
