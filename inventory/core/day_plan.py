"""What a casting day is planned from: the wish, the schedule, the kiln and the studio's own times."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from studio.kit.printing import print_celsius, print_minutes
from studio.kit.units import SECONDS_PER_MINUTE

from .clock import QuietHours
from .investing import Phase, compute_phases
from .schedule import LARGEST_STEP_C, ROOM_C, ScheduleStep

STANDING_MOST = 24 * 60
LEAD_MOST = 3 * 60
QUENCH_MOST = 24 * 60
STEP_LEAST_C, STEP_MOST_C = 5, 1_300
CRUCIBLE_MOST_C = 1_300


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

    Metal goes into the crucible when the cooling kiln passes `crucible_c`, or `lead_minutes` before the pour where
    the schedule has no such fall. `quench_minutes` after the pour is the earliest quench.
    """

    standing_minutes: int = 120
    crucible_c: int = 650
    lead_minutes: int = 20
    quench_minutes: int = 15
    quiet: QuietHours = QuietHours()


@dataclass(frozen=True, slots=True)
class DayPlan:
    """What happens on the day. No phases: the flasks are invested already, and only the kiln is planned."""

    steps: tuple[ScheduleStep, ...]
    kiln: Kiln = Kiln()
    practice: StudioPractice = StudioPractice()
    phases: tuple[Phase, ...] = compute_phases()

    @property
    def investing_s(self) -> int:
        """Seconds from the powder going into the water to the end of the last vacuum."""
        return self.phases[-1].end_s if self.phases else 0

    @property
    def standing_s(self) -> int:
        """Seconds the flasks stand; none where they are invested already."""
        return self.practice.standing_minutes * SECONDS_PER_MINUTE if self.phases else 0


def check_day_plan(plan: DayPlan) -> tuple[str, ...]:
    """What is wrong with the studio's own times; the schedule and the working time have checks of their own."""
    kiln, practice = plan.kiln, plan.practice
    bounds = (
        ("The flasks stand for", practice.standing_minutes, STANDING_MOST),
        ("The metal goes in before the pour by", practice.lead_minutes, LEAD_MOST),
        ("The quench waits for", practice.quench_minutes, QUENCH_MOST),
    )
    found = [
        f"{label} 0 min to {print_minutes(most)}. Check the time."
        for label, minutes, most in bounds
        if not 0 <= minutes <= most
    ]
    if not 0 <= practice.crucible_c <= CRUCIBLE_MOST_C:
        found.append(
            f"The metal goes in between 0 and {print_celsius(CRUCIBLE_MOST_C)} in the kiln. Check the temperature."
        )
    if not kiln.has_program and not STEP_LEAST_C <= kiln.largest_step_c <= STEP_MOST_C:
        found.append(
            f"A kiln is turned by {STEP_LEAST_C} to {print_celsius(STEP_MOST_C)} at a time. Check the largest step."
        )
    if not plan.steps:
        found.append("The schedule has no steps: write its climbs and holds first.")
    return tuple(found)
