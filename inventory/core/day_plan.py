"""What a casting day is planned from: the wish, the schedule, the kiln, the studio's times; and what happens on it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from fractions import Fraction

from studio.kit.printing import print_celsius, print_minutes, print_seconds
from studio.kit.units import SECONDS_PER_MINUTE, round_half_up

from .clock import QuietHours
from .heat import Heats
from .investing import Hand, Phase, compute_phases
from .schedule import (
    GUESSED,
    LARGEST_STEP_C,
    ROOM_C,
    ScheduleStep,
    SetPoint,
    Stretch,
    compute_set_points,
    lay_out,
)

# Bounds of what a studio may write for itself.
STANDING_MOST = 24 * 60
LEAD_MOST = 3 * 60
QUENCH_MOST = 24 * 60
STEP_LEAST_C, STEP_MOST_C = 5, 1_300
CRUCIBLE_MOST_C = 1_300
#: A kiln that passes its mark earlier before the pour than this does not say when the metal goes in: molten metal that
#: waits takes up gas and oxygen (common practice).
CRUCIBLE_LONG_MINUTES = 60


class WishKind(StrEnum):
    POUR = "pour"
    KILN_ON = "kiln on"


@dataclass(frozen=True, slots=True)
class Wish:
    """The one moment that the day is planned around."""

    kind: WishKind
    at: datetime


@dataclass(frozen=True, slots=True)
class Kiln:
    """`room_c` is what it stands at before it goes on; `largest_step_c` counts for a kiln without a program."""

    has_program: bool = False
    largest_step_c: int = LARGEST_STEP_C
    room_c: int = ROOM_C


@dataclass(frozen=True, slots=True)
class StudioPractice:
    """The studio's own times and temperatures around the kiln.

    Metal goes into the crucible `lead_minutes` before the pour, or when the cooling kiln passes `crucible_c` where the
    studio goes by that and the schedule has such a fall no longer before the pour than metal should wait molten.
    `quench_minutes` after the pour is the earliest quench.
    """

    standing_minutes: int = 120
    crucible_c: int | None = None
    lead_minutes: int = 20
    quench_minutes: int = 15
    quiet: QuietHours = QuietHours()


@dataclass(frozen=True, slots=True)
class FlaskPour:
    """One flask of the day: what is on its tree, its alloy, and how hot metal and flask are to be.

    Both names empty: nothing is known of the flask but that it is poured.
    """

    title: str = ""
    alloy: str = ""
    heats: Heats = Heats()


@dataclass(frozen=True, slots=True)
class DayPlan:
    """What happens on the day. No phases: the flasks are invested already, and only the kiln is planned."""

    steps: tuple[ScheduleStep, ...]
    kiln: Kiln = Kiln()
    practice: StudioPractice = StudioPractice()
    phases: tuple[Phase, ...] = compute_phases()
    flasks: tuple[FlaskPour, ...] = (FlaskPour(),)

    @property
    def investing_s(self) -> int:
        """Seconds from the powder going into the water to the end of the last vacuum."""
        return self.phases[-1].end_s if self.phases else 0

    @property
    def standing_s(self) -> int:
        """Seconds the flasks stand; none where they are invested already."""
        return self.practice.standing_minutes * SECONDS_PER_MINUTE if self.phases else 0


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
    practice, wait = plan.practice, plan.practice.quench_minutes
    passes = None if practice.crucible_c is None else find_crucible_minute(laid, practice.crucible_c)
    if passes is not None and total - passes > max(CRUCIBLE_LONG_MINUTES, practice.lead_minutes):
        passes = None
    goes_in = max(0, total - practice.lead_minutes) if passes is None else passes
    when = f"{print_minutes(total - goes_in)} before the pour"
    if passes is not None:
        when = f"as the kiln passes {print_celsius(practice.crucible_c)} on its way down"
    quench = f"not before {print_minutes(wait)} after the pour. Stand back: it steams."
    for flask in plan.flasks:
        metal, which = _name(flask, plan.flasks)
        for minute, kind, told in (
            (goes_in, MomentKind.CRUCIBLE, f"{metal}, {when}."),
            (total, MomentKind.POUR, f"Pour{which}{flask.heats.say_pour()}."),
            (total + wait, MomentKind.QUENCH, f"Quench{which}, {quench}"),
        ):
            yield Happening(minute * SECONDS_PER_MINUTE, kind, told, by_hand=True)


def _name(flask: FlaskPour, flasks: Sequence[FlaskPour]) -> tuple[str, str]:
    """What goes into the crucible, and which flask is poured: by its alloy where no other has it, else by its tree."""
    if len(flasks) == 1:
        return "Metal into the crucible", ""
    if sum(other.alloy == flask.alloy for other in flasks) == 1:
        return f"{flask.alloy} into the crucible", f" the {flask.alloy}"
    return f"Metal into the crucible for {flask.title}", f" {flask.title}"


def _flask_ready(laid: Sequence[Stretch], total: int, pour_c: int) -> tuple[int, str]:
    """The minute the flasks reach the temperature of the pour."""
    last = next((stretch for stretch in reversed(laid) if not stretch.is_hold), None)
    if last is None:
        return total, f"The flasks are at {print_celsius(pour_c)}."
    way = "down" if last.to_c < last.from_c else "up"
    return last.end_minute, f"The flasks are {way} to {print_celsius(pour_c)}."


def find_crucible_minute(laid: Sequence[Stretch], crucible_c: int) -> int | None:
    """The minute a cooling kiln last passes a temperature; None where it does not, or nobody can know when.

    A fall whose pace is only guessed gives no minute, and one that is followed by heat above it again is not the last.
    """
    for stretch in reversed(laid):
        if stretch.from_c > stretch.to_c and stretch.from_c >= crucible_c >= stretch.to_c:
            if stretch.paced and stretch.paced[1] == GUESSED:
                return None
            share = Fraction(stretch.from_c - crucible_c, stretch.from_c - stretch.to_c)
            return stretch.start_minute + round_half_up(share * stretch.minutes)
        if max(stretch.from_c, stretch.to_c) > crucible_c:
            return None
    return None
