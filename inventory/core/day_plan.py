"""What a casting day is planned from: the wish, the schedule, the kiln, the studio's times, its flasks."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from studio.kit.units import SECONDS_PER_MINUTE

from .clock import QuietHours
from .heat import Heats
from .investing import Phase, compute_phases
from .melting import MeltTime
from .mixing import MixTurn
from .pour_queue import Bench, Waiting
from .schedule import LARGEST_STEP_C, ROOM_C, ScheduleStep
from .slow_pour import SlowPour

# Bounds of what a studio may write for itself.
STANDING_MOST = 24 * 60
LEAD_MOST = 3 * 60
OUT_MOST, TABLE_MOST, CHANGE_MOST, COOLING_MOST = 30, 60, 60, 24 * 60
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


def count_melt_minutes(lead_minutes: int, out_minutes: int) -> int:
    """Of a charge that nobody knows more of: the studio's lead, less the time that the flask is out."""
    return max(1, lead_minutes - out_minutes)


@dataclass(frozen=True, slots=True)
class StudioPractice:
    """The studio's own times and temperatures around the kiln.

    Metal goes into the crucible `lead_minutes` before the pour, or when the cooling kiln passes `crucible_c` where the
    studio goes by that and the schedule has such a fall no longer before the pour than metal should wait molten.
    `quench_minutes` after the pour is the earliest quench. Several flasks are poured in turn by `bench`; one out of the
    kiln cools with `cooling_minutes` (None: a guess).
    """

    standing_minutes: int = 120
    crucible_c: int | None = None
    lead_minutes: int = 20
    quench_minutes: int = 15
    quiet: QuietHours = QuietHours()
    out_minutes: int = 1
    table_minutes: int = 3
    change_minutes: int = 5
    cooling_minutes: int | None = None
    slow: SlowPour = SlowPour()

    @property
    def melt_minutes(self) -> int:
        return count_melt_minutes(self.lead_minutes, self.out_minutes)

    @property
    def bench(self) -> Bench:
        return Bench(
            self.lead_minutes, self.out_minutes, self.table_minutes, self.change_minutes, self.quench_minutes
        )


@dataclass(frozen=True, slots=True)
class FlaskPour:
    """One flask of the day: what is on its tree, its alloy, and how hot metal and flask are to be.

    Both names empty: nothing is known of the flask but that it is poured. `melt` None: it takes the studio's own lead.
    `family` and `foulness` say with what its metal may share a crucible, and how clean it is; `quench_minutes` is the
    alloy's own wait, None the studio's.
    """

    title: str = ""
    alloy: str = ""
    heats: Heats = Heats()
    melt: MeltTime | None = None
    family: str = ""
    foulness: int = 0
    crucible: str = ""
    quench_minutes: int | None = None

    def waiting(self, practice: StudioPractice) -> Waiting:
        """As the queue of pours knows it."""
        minutes = self.melt.minutes if self.melt else practice.melt_minutes
        return Waiting(
            minutes,
            self.family,
            self.foulness,
            self.crucible,
            self.heats.flask_most_c,
            self.quench_minutes,
        )


@dataclass(frozen=True, slots=True)
class DayPlan:
    """What happens on the day. No phases: the flasks are invested already, and only the kiln is planned.

    `mixes` are the bowls in turn, each with phases of its own; none: one bowl with `phases`.
    """

    steps: tuple[ScheduleStep, ...]
    kiln: Kiln = Kiln()
    practice: StudioPractice = StudioPractice()
    phases: tuple[Phase, ...] = compute_phases()
    flasks: tuple[FlaskPour, ...] = (FlaskPour(),)
    mixes: tuple[MixTurn, ...] = ()

    @property
    def turns(self) -> tuple[MixTurn, ...]:
        """The bowls, one after another."""
        if not self.phases:
            return ()
        return self.mixes or (MixTurn(self.phases),)

    @property
    def investing_s(self) -> int:
        """Seconds from the first powder going into the water to the end of the last vacuum."""
        return sum(turn.seconds for turn in self.turns)

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
    MELTED = "melted"
    OUT = "out"
    POUR = "pour"
    QUENCH = "quench"


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing of the day, `second` seconds after the kiln goes on (below zero: before).

    `flask` is the place of the flask that it is for, None where it is for all.
    """

    second: int
    kind: MomentKind
    sentence: str
    by_hand: bool = False
    set_point_c: int | None = None
    flask: int | None = None
