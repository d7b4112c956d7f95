"""Burnout schedules: climbs and holds, how long they take, the curve they draw, and what is set on the kiln.

Temperatures are whole degrees Celsius, times whole minutes from the moment the kiln goes on.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from studio.kit.printing import print_celsius, print_heating_rate, print_minutes
from studio.kit.units import MINUTES_PER_HOUR, divide_half_up, round_half_up
from studio.kit.working import Given, Source, Step, Working, make_working, origin_of

from .kiln_curve import Curve, KilnCurves
from .kiln_rates import Asked

ROOM_C = 20
LARGEST_STEP_C = 100
"""What a kiln without a program is turned up by at a time, until the studio says otherwise: a guess of ours."""
CLIMB_C_PER_HOUR = 250
FALL_C_PER_HOUR = 100
"""How fast a kiln goes when it is only told where to: guesses of ours, on the slow side, so that no hold is cut short.

A kiln that cools from 732 to 621 C in an hour falls by 111 C; most are slower with the door shut.
"""
GUESSED = "a guess until you measure it"
BENDS = 4
"""A curve is drawn as so many straight lines."""
ROUND_C = 5
"""A knob is not set finer than this if it need not be."""


@dataclass(frozen=True, slots=True)
class Pace:
    """Degrees an hour that a kiln climbs at full heat, and falls when it is shut off; None where nobody measured.

    The kiln's own curves, as far as they are believed, come before both.
    """

    climb_c_per_hour: int | None = None
    fall_c_per_hour: int | None = None
    curves: KilnCurves = KilnCurves()

    def of(self, from_c: int, to_c: int) -> tuple[int, str]:
        """Degrees an hour from one temperature to another, by its curve in the mean, and where the figure is from."""
        if curve := self.curves.between(from_c, to_c):
            minutes = max(1, curve.minutes(from_c, to_c))
            return divide_half_up(abs(to_c - from_c) * MINUTES_PER_HOUR, minutes), curve.origin
        own, guess = (
            (self.climb_c_per_hour, CLIMB_C_PER_HOUR)
            if to_c > from_c
            else (self.fall_c_per_hour, FALL_C_PER_HOUR)
        )
        return (own, Source.OWN_SETTING) if own else (guess, GUESSED)

    def count_minutes(self, from_c: int, to_c: int) -> int:
        """Whole minutes from one temperature to another as fast as the kiln can, rounded up."""
        if curve := self.curves.between(from_c, to_c):
            return curve.minutes(from_c, to_c)
        rate, _ = self.of(from_c, to_c)
        return -(-abs(to_c - from_c) * MINUTES_PER_HOUR // rate)


UNMEASURED = Pace()


@dataclass(frozen=True, slots=True)
class ScheduleStep:
    """One climb (or fall) to a temperature, and how long it is held there.

    The climb is given by its minutes or by its degrees an hour, never both; with neither, the kiln is set at once
    and goes as fast as it can, which is at its `pace`. One that the kiln's own curve cannot do takes what the kiln
    needs.
    """

    target_c: int
    climb_minutes: int = 0
    climb_c_per_hour: int | None = None
    hold_minutes: int = 0
    label: str = ""
    pace: Pace = UNMEASURED

    def __post_init__(self) -> None:
        if self.climb_minutes and self.climb_c_per_hour is not None:
            raise ValueError("a climb has minutes or degrees an hour, not both")

    @property
    def is_as_fast_as_it_can(self) -> bool:
        return self.climb_c_per_hour is None and not self.climb_minutes

    def compute_climb_minutes(self, from_c: int) -> int:
        """Minutes of the climb from a temperature, as the kiln can do it. Raises ValueError for a rate of nothing.

        As fast as the kiln can, it is rounded up to a whole minute: nothing that is heated takes no time.
        """
        if self.is_as_fast_as_it_can:
            return self.pace.count_minutes(from_c, self.target_c)
        asked = self.compute_asked_minutes(from_c)
        curve = self.pace.curves.between(from_c, self.target_c)
        return curve.follow(from_c, self.target_c, asked) if curve and asked else asked

    def compute_asked_minutes(self, from_c: int) -> int:
        """What the schedule gives it, rounded half up; 0 where that is as fast as the kiln can."""
        if self.climb_c_per_hour is None:
            return self.climb_minutes
        if self.climb_c_per_hour <= 0:
            raise ValueError("a climb of no degrees an hour never ends")
        degrees = abs(self.target_c - from_c)
        return round_half_up(Fraction(degrees * MINUTES_PER_HOUR, self.climb_c_per_hour))


@dataclass(frozen=True, slots=True)
class Stretch:
    """A climb, a fall or a hold with its place in time; `step` is the place of its step in the schedule."""

    start_minute: int
    minutes: int
    from_c: int
    to_c: int
    step: int
    is_hold: bool
    label: str
    paced: tuple[int, str] | None = None
    """Of a climb as fast as the kiln can: its degrees an hour, and where they are from."""
    curve: Curve | None = None
    """By which it is reckoned, where that is the kiln's own."""
    asked_minutes: int = 0
    """Of one that the kiln cannot do in that time: what the schedule gives it."""

    def pass_minute(self, c: int) -> int:
        """The minute from the kiln going on at which it passes a temperature on its way."""
        if self.curve is None:
            share = Fraction(c - self.from_c, self.to_c - self.from_c)
            return self.start_minute + round_half_up(share * self.minutes)
        if not self.asked_minutes:
            return self.start_minute + min(self.minutes, self.curve.minutes(self.from_c, c))
        rate = abs(self.to_c - self.from_c) / self.asked_minutes
        return self.start_minute + min(self.minutes, ceil(self.curve.exact_follow(self.from_c, c, rate)))

    @property
    def end_minute(self) -> int:
        return self.start_minute + self.minutes


@dataclass(frozen=True, slots=True)
class SetPoint:
    """What the kiln is set to at a minute. `hold_minutes` is 0 for a climb."""

    minute: int
    set_c: int
    from_c: int
    label: str
    hold_minutes: int = 0


def lay_out(steps: Sequence[ScheduleStep], start_c: int = ROOM_C) -> tuple[Stretch, ...]:
    """The climbs and holds of a schedule one after another. A hold of no minutes is left out."""
    laid: list[Stretch] = []
    minute, from_c = 0, start_c
    for place, step in enumerate(steps):
        climb = step.compute_climb_minutes(from_c)
        if from_c != step.target_c:
            laid.append(_climb(step, place, minute, from_c))
            hold = step.hold_minutes
        else:
            hold = climb + step.hold_minutes
            climb = 0
        minute += climb
        if hold:
            laid.append(Stretch(minute, hold, step.target_c, step.target_c, place, True, step.label))
        minute, from_c = minute + hold, step.target_c
    return tuple(laid)


def _climb(step: ScheduleStep, place: int, minute: int, from_c: int) -> Stretch:
    minutes, asked = step.compute_climb_minutes(from_c), step.compute_asked_minutes(from_c)
    paced = step.pace.of(from_c, step.target_c) if step.is_as_fast_as_it_can else None
    is_slower = not step.is_as_fast_as_it_can and minutes > asked
    curve = step.pace.curves.between(from_c, step.target_c) if paced or is_slower else None
    return Stretch(
        minute,
        minutes,
        from_c,
        step.target_c,
        place,
        False,
        step.label,
        paced,
        curve,
        asked if is_slower else 0,
    )


def count_minutes(steps: Sequence[ScheduleStep], start_c: int = ROOM_C) -> int:
    """Minutes from the kiln going on to the end of the last hold."""
    return sum(stretch.minutes for stretch in lay_out(steps, start_c))


def compute_total_minutes(steps: Sequence[ScheduleStep], start_c: int = ROOM_C) -> tuple[int, Working]:
    """The same, and how the hours add up."""
    laid = lay_out(steps, start_c)
    lines = tuple(Step(_tell(stretch), print_minutes(stretch.minutes)) for stretch in laid)
    total = count_minutes(steps, start_c)
    working = make_working(
        "Hours of the schedule",
        "all climbs and holds, one after another",
        Given("the schedule", f"{len(steps)} {'step' if len(steps) == 1 else 'steps'}", "its own page"),
        Given("the kiln before it goes on", print_celsius(start_c), origin_of(start_c)),
        *_give_pace(laid),
        *lines,
        Step("together", print_minutes(total)),
    )
    return total, working


def _give_pace(laid: Sequence[Stretch]) -> tuple[Given, ...]:
    """What a climb or fall as fast as the kiln can was reckoned with; nothing where all of them have a time."""
    found: dict[str, Given] = {}
    for stretch in laid:
        if stretch.paced:
            rate, origin = stretch.paced
            way = "climbs" if stretch.to_c > stretch.from_c else "falls"
            found[way] = Given(f"as fast as it can, the kiln {way}", f"by {print_heating_rate(rate)}", origin)
    return tuple(found.values())


def _tell(stretch: Stretch) -> str:
    if stretch.is_hold:
        text = f"hold at {print_celsius(stretch.to_c)}"
    else:
        text = _tell_way(stretch)
    if stretch.asked_minutes:
        text += f", for which the schedule gives {print_minutes(stretch.asked_minutes)}"
    return f"{text} ({stretch.label})" if stretch.label else text


def _tell_way(stretch: Stretch) -> str:
    way = "up" if stretch.to_c > stretch.from_c else "down"
    return f"{way} from {print_celsius(stretch.from_c)} to {print_celsius(stretch.to_c)}"


def tell_slower(steps: Sequence[ScheduleStep], start_c: int = ROOM_C) -> Iterator[str]:
    """A sentence for each climb or fall that the kiln cannot do in the time that the schedule gives it."""
    for stretch in lay_out(steps, start_c):
        if stretch.curve and stretch.asked_minutes:
            asked, needed = print_minutes(stretch.asked_minutes), print_minutes(stretch.minutes)
            yield (
                f"The kiln does not go {_tell_way(stretch)} in {asked}: it takes {needed} by {stretch.curve.origin}. "
                "It gets that time, and the hold after it is whole."
            )


def list_asked(laid: Sequence[Stretch]) -> Asked:
    """What a kiln's program asks at a temperature; for one that it never passes on its way, nothing can be said: 0."""

    def ask(c: float, is_up: bool) -> float | None:
        for one in laid:
            if (one.to_c > one.from_c) == is_up and min(one.from_c, one.to_c) <= c <= max(
                one.from_c, one.to_c
            ):
                if one.paced:
                    return None
                return abs(one.to_c - one.from_c) / max(1, one.asked_minutes or one.minutes)
        return 0.0

    return ask


def compute_curve(steps: Sequence[ScheduleStep], start_c: int = ROOM_C) -> tuple[tuple[int, int], ...]:
    """The corners of the curve as (minute, degrees), from the kiln going on; for drawing.

    A climb or fall by the kiln's own curve is bent: it has corners of its own on the way.
    """
    corners = [(0, start_c)]
    for stretch in lay_out(steps, start_c):
        if stretch.curve:
            degrees = stretch.to_c - stretch.from_c
            way = (stretch.from_c + degrees * part // BENDS for part in range(1, BENDS))
            corners += [(stretch.pass_minute(c), c) for c in way]
        corners.append((stretch.end_minute, stretch.to_c))
    return tuple(corners)


def compute_set_points(
    steps: Sequence[ScheduleStep], start_c: int = ROOM_C, largest_step_c: int | None = LARGEST_STEP_C
) -> tuple[SetPoint, ...]:
    """What is set on the kiln and when.

    With `largest_step_c` a person turns the kiln by hand: a long climb or fall is made in smaller set points, evenly
    in time, or as the kiln passes them by its own curve. None is a kiln with a program: one point for each climb and
    hold. Source: common practice.
    """
    points: list[SetPoint] = []
    for stretch in lay_out(steps, start_c):
        if largest_step_c is None:
            hold = stretch.minutes if stretch.is_hold else 0
            following = [
                SetPoint(stretch.start_minute, stretch.to_c, stretch.from_c, stretch.label, hold_minutes=hold)
            ]
        elif stretch.is_hold and points:
            following = []  # it stands there already
        else:
            following = _turn_by_hand(stretch, largest_step_c)
        if following and points and points[-1].minute == following[0].minute:
            points.pop()  # a climb that takes no time: nobody sets a kiln twice in one minute
        points += following
    return tuple(points)


def _turn_by_hand(stretch: Stretch, largest_step_c: int) -> list[SetPoint]:
    """Set points of one climb or fall, never two in the same minute."""
    targets = split_climb(stretch.from_c, stretch.to_c, largest_step_c, most_parts=max(1, stretch.minutes))
    before = [stretch.from_c, *targets]
    starts = [stretch.minutes * place // len(targets) for place in range(len(targets))]
    if stretch.curve:  # as the kiln comes there: it is not waited for low down and then late at the top
        ways = [stretch.pass_minute(c) - stretch.start_minute for c in before[:-1]]
        if len(set(ways)) == len(ways):
            starts = ways
    return [
        SetPoint(stretch.start_minute + start, target, from_c, stretch.label)
        for start, target, from_c in zip(starts, targets, before, strict=False)
    ]


def split_climb(from_c: int, to_c: int, largest_step_c: int, most_parts: int) -> list[int]:
    """The temperatures on the way from one to another, the last being `to_c`, none farther than the largest step.

    They are counted back from the target, so that they are round numbers when it is one; where that would begin
    with less than half a step, or there is no time for so many, all parts are nearly alike.
    """
    degrees, way = abs(to_c - from_c), 1 if to_c > from_c else -1
    wanted = max(1, -(-degrees // largest_step_c))
    parts = min(wanted, most_parts)
    first = degrees - (wanted - 1) * largest_step_c
    if parts == wanted and 2 * first >= largest_step_c:
        return [to_c - way * largest_step_c * (parts - 1 - place) for place in range(parts)]
    alike = [from_c + way * Fraction(degrees * place, parts) for place in range(1, parts + 1)]
    rounded = [ROUND_C * round_half_up(exact / ROUND_C) for exact in alike[:-1]] + [to_c]
    apart = [way * (to - since) for since, to in zip([from_c, *rounded], rounded, strict=False)]
    if all(0 < degrees <= largest_step_c for degrees in apart):
        return rounded
    return [round_half_up(exact) for exact in alike]


def explain_set_points(
    steps: Sequence[ScheduleStep], start_c: int = ROOM_C, largest_step_c: int = LARGEST_STEP_C
) -> Working:
    """How many times a kiln without a program is turned, and on which climb."""
    waiting = list(compute_set_points(steps, start_c, largest_step_c))
    total = len(waiting)
    lines: list[Step] = []
    for stretch in lay_out(steps, start_c):
        turns = 0
        while waiting and _is_of(waiting[0], stretch):
            waiting.pop(0)
            turns += 1
        if turns:
            lines.append(Step(f"{_tell(stretch)}, in {print_minutes(stretch.minutes)}", _count_turns(turns)))
    return make_working(
        "Turned by hand",
        "each climb or fall in parts no larger than the largest step, evenly in its time",
        Given("largest step", print_celsius(largest_step_c), origin_of(largest_step_c)),
        Given("the kiln before it goes on", print_celsius(start_c), origin_of(start_c)),
        *lines,
        Step("together", _count_turns(total)),
    )


def _is_of(point: SetPoint, stretch: Stretch) -> bool:
    if stretch.minutes:
        return point.minute < stretch.end_minute
    return (point.minute, point.set_c) == (stretch.start_minute, stretch.to_c)


def _count_turns(turns: int) -> str:
    return "once" if turns == 1 else f"{turns} times"
