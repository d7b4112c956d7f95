"""The working time of investment powder, split into what the hands do: for the clock at the bench.

All times are whole seconds from the powder going into the water.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from studio.kit.printing import print_seconds
from studio.kit.rounding import allocate_largest_remainder
from studio.kit.units import SECONDS_PER_MINUTE
from studio.kit.working import Given, Source, Step, Working, make_working

WORKING_SECONDS_MOST = 60 * SECONDS_PER_MINUTE


class Hand(StrEnum):
    """What is done within the working time, in this order."""

    MIX = "mix the powder into the water"
    VACUUM_BOWL = "vacuum on the bowl"
    FILL = "pour into the flask"
    VACUUM_FLASK = "vacuum on the flask"


@dataclass(frozen=True, slots=True)
class WorkingSplit:
    """Seconds for each part; as it stands, common practice for a powder of 8 minutes."""

    mix_s: int = 4 * SECONDS_PER_MINUTE
    vacuum_bowl_s: int = SECONDS_PER_MINUTE
    fill_s: int = SECONDS_PER_MINUTE
    vacuum_flask_s: int = 2 * SECONDS_PER_MINUTE

    @property
    def seconds(self) -> tuple[int, int, int, int]:
        return self.mix_s, self.vacuum_bowl_s, self.fill_s, self.vacuum_flask_s

    @property
    def total_s(self) -> int:
        return sum(self.seconds)


COMMON_SPLIT = WorkingSplit()


@dataclass(frozen=True, slots=True)
class Phase:
    """One part of the working time, from a second to a second; the end belongs to the next phase."""

    hand: Hand
    start_s: int
    end_s: int

    @property
    def seconds(self) -> int:
        return self.end_s - self.start_s


@dataclass(frozen=True, slots=True)
class PhaseNow:
    """Where the clock stands: the phase and what is left of it, None after the last; `over_s` counts on from there."""

    phase: Phase | None
    left_s: int
    over_s: int


def compute_phases(split: WorkingSplit = COMMON_SPLIT) -> tuple[Phase, ...]:
    """The phases one after another. A part of no seconds is left out: a studio may work without a vacuum."""
    phases, start_s = [], 0
    for hand, seconds in zip(Hand, split.seconds, strict=True):
        if seconds:
            phases.append(Phase(hand, start_s, start_s + seconds))
        start_s += seconds
    return tuple(phases)


def compute_phase_at(phases: Sequence[Phase], elapsed_s: int) -> PhaseNow:
    """The phase after so many seconds. Before the start it is the first one, whole."""
    elapsed_s = max(0, elapsed_s)
    for phase in phases:
        if elapsed_s < phase.end_s:
            return PhaseNow(phase, phase.end_s - elapsed_s, 0)
    return PhaseNow(None, 0, elapsed_s - (phases[-1].end_s if phases else 0))


def check_split(split: WorkingSplit, working_s: int | None = None) -> tuple[str, ...]:
    """What is wrong with a split, and whether it fits the working time on the powder's sheet (None: not known)."""
    if any(seconds < 0 for seconds in split.seconds):
        return ("A part of the working time cannot be below zero. Write 0 for what you leave out.",)
    if split.total_s == 0:
        return ("The working time has no parts: write how long you mix.",)
    if split.total_s > WORKING_SECONDS_MOST:
        return (f"The parts come to more than {print_seconds(WORKING_SECONDS_MOST)}. Check each of them.",)
    if working_s is not None and split.total_s > working_s:
        over = print_seconds(split.total_s - working_s)
        return (
            f"Mixing, vacuum and pouring take {print_seconds(split.total_s)}, and this powder can be worked for "
            f"{print_seconds(working_s)}. Shorten them by {over}, or it sets in the bowl.",
        )
    return ()


def allocate_working_time(working_s: int, split: WorkingSplit = COMMON_SPLIT) -> tuple[WorkingSplit, Working]:
    """A maker's working time split in the same proportion, to the last second.

    Raises ValueError for a working time below zero, or a split with nothing in it.
    """
    if working_s < 0 or split.total_s <= 0:
        raise ValueError("a working time and its parts are more than nothing")
    shares = allocate_largest_remainder(working_s, split.seconds)
    lines = [
        Step(f"{hand}: {part} of {split.total_s} parts", print_seconds(share))
        for hand, part, share in zip(Hand, split.seconds, shares, strict=True)
        if part
    ]
    working = make_working(
        "The working time of the powder",
        "the working time, shared over mixing, vacuum and pouring in the proportion of the usual times",
        Given("working time", print_seconds(working_s), "the powder's own page"),
        Given(
            "the usual times together",
            print_seconds(split.total_s),
            Source.COMMON_PRACTICE if split == COMMON_SPLIT else Source.OWN_SETTING,
        ),
        *lines,
        result=print_seconds(sum(shares)),
    )
    return WorkingSplit(*shares), working
