"""What a casting day is planned from: the wish, the schedule, the kiln and the studio's own times."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from studio.kit.units import SECONDS_PER_MINUTE

from .clock import QuietHours
from .heat import Heats
from .investing import Phase, compute_phases
from .schedule import LARGEST_STEP_C, ROOM_C, ScheduleStep

# Bounds of what a studio may write for itself.
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

    Metal goes into the crucible `lead_minutes` before the pour, or when the cooling kiln passes `crucible_c` where the
    studio goes by that and the schedule has such a fall. `quench_minutes` after the pour is the earliest quench.
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
