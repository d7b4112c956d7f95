"""What a log shows of a firing: when the kiln went on, its holds against the schedule's, its peak, its heat; and a line
of few points that keeps every peak.

Readings are smoothed before anything is judged: a single wild one is no peak.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from studio.kit.printing import SPACE, print_celsius, print_minutes
from studio.kit.units import MINUTES_PER_HOUR
from studio.kit.working import Given, Step, Working, make_working

from .kiln_rates import Reading, smooth
from .schedule import Stretch
from .schedule_check import BURNT_OUT_C

MOST_POINTS = 600
MOST_JUDGED = 10_000
NEAR_C = 15
"""A kiln is at its mark within so many degrees, once it came there: it swings about it (a guess of ours)."""
LEVEL_MINUTES = 20
"""Where no schedule says where the holds are, so long on one level is one."""
ON_C, OFF_C = 20, 3
"""The kiln is on when it has climbed so far, since it last was no farther than so far from where it began."""


@dataclass(frozen=True, slots=True)
class FoundHold:
    """A hold of the schedule in a log; `minutes` and `reached` (minutes from the kiln going on) are None where the
    kiln never came there. `over_c` is how far it went beyond the set point in the way that it came.

    Where there was no schedule to go by, `over_c`, `planned_minutes` and `planned_reached` are None.
    """

    set_c: int
    planned_minutes: int | None = None
    planned_reached: int | None = None
    minutes: int | None = None
    reached: int | None = None
    over_c: int | None = None

    @property
    def short_minutes(self) -> int:
        """By how much the kiln stood there shorter than was planned."""
        return max(0, (self.planned_minutes or 0) - (self.minutes or 0))


@dataclass(frozen=True, slots=True)
class LogFigures:
    """Of a whole log; minutes are from its first reading, the peak is of smoothed readings.

    `degree_hours` are above BURNT_OUT_C, in degrees times hours; the planned ones None without a schedule.
    """

    on_minute: int
    peak_c: int
    peak_minute: int
    holds: tuple[FoundHold, ...]
    degree_hours: int
    planned_degree_hours: int | None = None


def compute_figures(
    readings: Sequence[Reading], laid: Sequence[Stretch] = (), planned: Sequence[Reading] = ()
) -> LogFigures:
    """The figures of a log against the climbs and holds of a schedule, whose curve has the corners `planned`.

    Raises ValueError for no readings.
    """
    smoothed = smooth(readings)
    peak_minute, peak_c = max(smoothed, key=lambda one: one[1])
    on_minute = find_kiln_on(smoothed)
    judged = smoothed[:: max(1, len(smoothed) // MOST_JUDGED)]
    wanted = list_holds(laid)
    holds = find_holds(judged, wanted, on_minute) if wanted else find_levels(judged, on_minute)
    return LogFigures(
        round(on_minute),
        round(peak_c),
        round(peak_minute),
        tuple(holds),
        round(count_degree_hours(smoothed, BURNT_OUT_C)),
        round(count_degree_hours(planned, BURNT_OUT_C)) if planned else None,
    )


def find_kiln_on(readings: Sequence[Reading]) -> float:
    """The minute from which it climbs."""
    base = median(c for _, c in readings[:5])
    on = readings[0][0]
    for minute, c in readings:
        if c <= base + OFF_C:
            on = minute
        elif c >= base + ON_C:
            return on
    return readings[0][0]


def list_holds(laid: Sequence[Stretch]) -> list[tuple[Stretch, bool]]:
    """The holds of a schedule, and whether the kiln comes up to each. What follows at one temperature is one."""
    holds: list[tuple[Stretch, bool]] = []
    is_up = True
    for stretch in laid:
        if not stretch.is_hold:
            is_up = stretch.to_c > stretch.from_c
        elif stretch.minutes:
            holds.append((stretch, is_up))
    return holds


def find_holds(
    readings: Sequence[Reading], wanted: Sequence[tuple[Stretch, bool]], on_minute: float
) -> Iterator[FoundHold]:
    """Each hold: from when the kiln came to its set point, to when it last was near, before it came to the next."""
    place = 0
    for number, (hold, is_up) in enumerate(wanted):
        plan = {"planned_minutes": hold.minutes, "planned_reached": hold.start_minute}
        begin = _find_near(readings, place, hold.to_c, is_up)
        if begin is None:
            yield FoundHold(hold.to_c, **plan)
            continue
        end, leaves = len(readings), 0
        if number + 1 < len(wanted):
            following, goes_up = wanted[number + 1]
            leaves = 1 if following.to_c > hold.to_c else -1
            if abs(following.to_c - hold.to_c) > 2 * NEAR_C:
                came = _find_near(readings, begin, following.to_c, goes_up)
                end = end if came is None else came
        if end == begin:
            # No reading between: the wire was put in late, or is read too seldom.
            yield FoundHold(hold.to_c, **plan)
            continue
        begin = _come_close(readings, begin, end, hold.to_c, is_up)
        part = readings[begin:end]
        last = _find_last(part, hold.to_c, leaves)
        part = part[: last + 1]
        beyond = max(c - hold.to_c for _, c in part) if is_up else max(hold.to_c - c for _, c in part)
        yield FoundHold(
            hold.to_c,
            **plan,
            minutes=round(part[-1][0] - part[0][0]),
            reached=round(part[0][0] - on_minute),
            over_c=max(0, round(beyond)),
        )
        place = begin + last


def _find_near(readings: Sequence[Reading], place: int, set_c: int, is_up: bool) -> int | None:
    for at in range(place, len(readings)):
        c = readings[at][1]
        if (c >= set_c - NEAR_C) if is_up else (c <= set_c + NEAR_C):
            return at
    return None


def _come_close(readings: Sequence[Reading], begin: int, end: int, set_c: int, is_up: bool) -> int:
    """Where it has come to its mark but for a hair; of a kiln that stays a little short of it, where it is near."""
    way = 1 if is_up else -1
    for at in range(begin, end):
        if way * (readings[at][1] - set_c) >= -OFF_C:
            return at
    return begin


def _find_last(part: Sequence[Reading], set_c: int, leaves: int) -> int:
    """The last place at which it is near its mark, and not yet under way to the next (`leaves`: 1 up, -1 down)."""
    near = [at for at, (_, c) in enumerate(part) if abs(c - set_c) <= NEAR_C]
    still = [at for at in near if leaves * (part[at][1] - set_c) <= OFF_C]
    return (still or near or [0])[-1]


def find_levels(readings: Sequence[Reading], on_minute: float) -> Iterator[FoundHold]:
    """Where the kiln stood within NEAR_C of one temperature for LEVEL_MINUTES or longer."""
    begin = 0
    while begin < len(readings):
        low = high = readings[begin][1]
        end = begin
        while (
            end + 1 < len(readings)
            and max(high, readings[end + 1][1]) - min(low, readings[end + 1][1]) <= NEAR_C
        ):
            end += 1
            low, high = min(low, readings[end][1]), max(high, readings[end][1])
        part = readings[begin : end + 1]
        minutes = part[-1][0] - part[0][0]
        if minutes >= LEVEL_MINUTES and part[0][0] > on_minute:
            level = round(median(c for _, c in part))
            reached = round(part[0][0] - on_minute)
            yield FoundHold(level, minutes=round(minutes), reached=reached)
            begin = end + 1
        else:
            # Whoever is not level from here may be so from a little later on.
            begin += max(1, (end - begin) // 8)


def count_degree_hours(corners: Sequence[Reading], above_c: float) -> float:
    """Degrees above a temperature times the hours it was above it, straight from one reading to the next."""
    total = 0.0
    for (minute, c), (later, later_c) in pairwise(corners):
        low, high = sorted((c - above_c, later_c - above_c))
        if low >= 0:
            total += (later - minute) * (low + high) / 2
        elif high > 0:
            total += (later - minute) * high * high / (high - low) / 2
    return total / MINUTES_PER_HOUR


def thin(readings: Sequence[Reading], most: int = MOST_POINTS) -> list[Reading]:
    """At most so many readings in order. Of each equal part of the time its first, lowest and highest stay, and the
    last of all: so no peak and no dip is lost."""
    if len(readings) <= most:
        return list(readings)
    parts = max(1, (most - 1) // 3)
    begin, span = readings[0][0], (readings[-1][0] - readings[0][0]) or 1.0
    kept: dict[int, tuple[int, int, int]] = {}
    for place, (minute, c) in enumerate(readings):
        part = min(parts - 1, int((minute - begin) / span * parts))
        if part not in kept:
            kept[part] = (place, place, place)
        else:
            first, low, high = kept[part]
            kept[part] = (
                first,
                place if c < readings[low][1] else low,
                place if c > readings[high][1] else high,
            )
    places = {place for three in kept.values() for place in three} | {len(readings) - 1}
    return [readings[place] for place in sorted(places)]


def explain_figures(figures: LogFigures, readings: int) -> Working:
    """How the figures of a log were found."""
    steps = [Step("the kiln goes on: it climbs from there", f"after {print_minutes(figures.on_minute)}")]
    for hold in figures.holds:
        found = "never" if hold.minutes is None else print_minutes(hold.minutes)
        steps.append(Step(f"held at {print_celsius(hold.set_c)}", found))
    above = f"above {print_celsius(BURNT_OUT_C)}, degrees times hours"
    return make_working(
        "What the log shows",
        "a hold lasts from when the kiln comes to its set point to when it last is near it, before it goes to the next",
        Given("readings", f"{readings:,}", "the file"),
        Given("near", f"{NEAR_C}{SPACE}°C", "a guess of ours: a kiln swings about its mark"),
        *steps,
        Step("highest, of the middle one of five readings", print_celsius(figures.peak_c)),
        Step(above, f"{figures.degree_hours:,} degree-hours"),
        notes=(
            f"The line drawn has {MOST_POINTS} points at most: of each equal part of the time the first, the lowest "
            "and the highest reading. The figures are of all readings.",
        ),
    )
