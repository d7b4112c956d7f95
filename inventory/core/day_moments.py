"""What happens on a casting day and how it is said, in seconds from the kiln going on."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from studio.kit.printing import print_celsius, print_minutes, print_seconds
from studio.kit.units import SECONDS_PER_MINUTE, round_half_up

from .day_plan import DayPlan
from .investing import Hand
from .schedule import SetPoint, Stretch, compute_set_points, lay_out


class MomentKind(StrEnum):
    """In the order in which two of them stand that fall together."""

    MIX = "mix"
    VACUUM_BOWL = "vacuum-bowl"
    FILL = "fill"
    VACUUM_FLASK = "vacuum-flask"
    STAND = "stand"
    KILN_ON = "kiln-on"
    SET_POINT = "set-point"
    FLASK_READY = "flask-ready"
    CRUCIBLE = "crucible"
    POUR = "pour"
    QUENCH = "quench"


ORDER = tuple(MomentKind)
HANDS = {
    Hand.MIX: (MomentKind.MIX, "Powder into the water, and mix"),
    Hand.VACUUM_BOWL: (MomentKind.VACUUM_BOWL, "Vacuum on the bowl"),
    Hand.FILL: (MomentKind.FILL, "Pour the mix into the flasks"),
    Hand.VACUUM_FLASK: (MomentKind.VACUUM_FLASK, "Vacuum on the flasks"),
}


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing of the day, `second` seconds after the kiln goes on (below zero: before)."""

    second: int
    kind: MomentKind
    sentence: str
    by_hand: bool = False
    set_point_c: int | None = None


def list_happenings(plan: DayPlan) -> tuple[Happening, ...]:
    """Everything of the day in order. Raises ValueError for a schedule without steps."""
    if not plan.steps:
        raise ValueError("a day needs a schedule")
    happenings = [*_invest(plan), *_fire(plan), *_cast(plan)]
    return tuple(sorted(happenings, key=lambda one: (one.second, ORDER.index(one.kind))))


def _invest(plan: DayPlan) -> Iterator[Happening]:
    begin = -plan.investing_s - plan.standing_s
    for phase in plan.phases:
        kind, words = HANDS[phase.hand]
        yield Happening(
            begin + phase.start_s, kind, f"{words}: {print_seconds(phase.seconds)}.", by_hand=True
        )
    if plan.standing_s:
        stand = print_minutes(plan.practice.standing_minutes)
        yield Happening(-plan.standing_s, MomentKind.STAND, f"Let the flasks stand for {stand}.")


def _fire(plan: DayPlan) -> Iterator[Happening]:
    kiln = plan.kiln
    largest = None if kiln.has_program else kiln.largest_step_c
    points = compute_set_points(plan.steps, kiln.room_c, largest)
    first_c = points[0].set_c if points else plan.steps[0].target_c
    how = "start its program" if kiln.has_program else f"set it to {print_celsius(first_c)}"
    yield Happening(
        0, MomentKind.KILN_ON, f"Flasks into the kiln, and {how}.", by_hand=True, set_point_c=first_c
    )
    for point in points[1:]:
        yield Happening(
            point.minute * SECONDS_PER_MINUTE,
            MomentKind.SET_POINT,
            _tell_set_point(point, kiln.has_program),
            by_hand=not kiln.has_program,
            set_point_c=point.set_c,
        )


def _tell_set_point(point: SetPoint, has_program: bool) -> str:
    target = print_celsius(point.set_c)
    label = f" ({point.label})" if point.label else ""
    is_up = point.set_c > point.from_c
    if not has_program:
        return f"Turn the kiln {'up' if is_up else 'down'} to {target}{label}."
    if point.hold_minutes:
        return f"The kiln holds {target} for {print_minutes(point.hold_minutes)} by itself{label}."
    return f"The kiln {'climbs' if is_up else 'cools'} to {target} by itself{label}."


def _cast(plan: DayPlan) -> Iterator[Happening]:
    laid = lay_out(plan.steps, plan.kiln.room_c)
    total = laid[-1].end_minute if laid else 0
    ready, told = _flask_ready(laid, total, plan.steps[-1].target_c)
    yield Happening(ready * SECONDS_PER_MINUTE, MomentKind.FLASK_READY, told)
    practice = plan.practice
    passes = find_crucible_minute(laid, practice.crucible_c)
    if passes is None:
        passes = max(0, total - practice.lead_minutes)
        told = f"Metal into the crucible, {print_minutes(total - passes)} before the pour."
    else:
        told = (
            f"The kiln passes {print_celsius(practice.crucible_c)} on its way down: metal into the crucible."
        )
    yield Happening(passes * SECONDS_PER_MINUTE, MomentKind.CRUCIBLE, told, by_hand=True)
    yield Happening(total * SECONDS_PER_MINUTE, MomentKind.POUR, "Pour.", by_hand=True)
    wait = practice.quench_minutes
    told = f"Quench, and not before: {print_minutes(wait)} after the pour."
    yield Happening((total + wait) * SECONDS_PER_MINUTE, MomentKind.QUENCH, told, by_hand=True)


def _flask_ready(laid: Sequence[Stretch], total: int, pour_c: int) -> tuple[int, str]:
    """The minute the flasks reach the temperature of the pour. Where the climb has no time, only the end is sure."""
    last = next((stretch for stretch in reversed(laid) if not stretch.is_hold), None)
    if last is None or last.minutes == 0:
        return total, f"The flasks are at {print_celsius(pour_c)}."
    way = "down" if last.to_c < last.from_c else "up"
    return last.end_minute, f"The flasks are {way} to {print_celsius(pour_c)}."


def find_crucible_minute(laid: Sequence[Stretch], crucible_c: int) -> int | None:
    """The minute a cooling kiln last passes a temperature; None where it does not, or nobody can know when.

    A fall without a time gives no minute, and one that is followed by heat above it again is not the last.
    """
    for stretch in reversed(laid):
        if stretch.from_c > stretch.to_c and stretch.from_c >= crucible_c >= stretch.to_c:
            if stretch.minutes == 0:
                return None
            share = Fraction(stretch.from_c - crucible_c, stretch.from_c - stretch.to_c)
            return stretch.start_minute + round_half_up(share * stretch.minutes)
        if max(stretch.from_c, stretch.to_c) > crucible_c:
            return None
    return None
