"""Whether a day was worth it: what went into a cast and what came of it, beside the middle of good casts.

Masses are milligrams, times seconds, money millionths; shares hundredths of a per cent.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median

from inventory.core.weighing import compute_share_pct100
from studio.kit.printing import print_mass, print_money, print_percent
from studio.kit.units import MG_PER_G, PCT100_WHOLE, round_half_up
from studio.kit.working import Given, Step, Working, make_working

#: Fewer good casts say nothing of what a good day is. Our own judgement.
LEAST_GOOD = 3
#: So many good casts before it are what a cast is held against.
MOST_GOOD = 12
#: Up to so much more than good casts take counts as a good day. Our own judgement.
NEAR_PCT100 = 1_000


@dataclass(frozen=True, slots=True)
class DayFigures:
    """What went into a cast and came of it. `total_micro` is all it cost, `metal_micro` of it the metal in its pieces.

    Kept, back and lost make the charge; back counts all that came back as metal, filings and spill too.
    """

    charge_mg: int
    back_mg: int
    lost_mg: int
    seconds: int
    total_micro: int
    metal_micro: int

    @property
    def kept_mg(self) -> int:
        return self.charge_mg - self.back_mg - self.lost_mg

    @property
    def kept_pct100(self) -> int | None:
        return compute_share_pct100(self.kept_mg, self.charge_mg)

    @property
    def back_pct100(self) -> int | None:
        return compute_share_pct100(self.back_mg, self.charge_mg)

    @property
    def lost_pct100(self) -> int | None:
        return compute_share_pct100(self.lost_mg, self.charge_mg)

    @property
    def besides_micro(self) -> int:
        """What it cost besides the metal in its pieces: that is there still, and its price is not the day's doing."""
        return self.total_micro - self.metal_micro

    @property
    def besides_per_g(self) -> Fraction | None:
        """Millionths for each gram kept; None where nothing was."""
        return Fraction(self.besides_micro * MG_PER_G, self.kept_mg) if self.kept_mg > 0 else None


def middle_of(
    casts: Sequence[DayFigures], figure: Callable[[DayFigures], int | Fraction | None]
) -> int | None:
    """The middle of a figure over casts, rounded once; None of too few."""
    known = [Fraction(value) for one in casts if (value := figure(one)) is not None]
    return round_half_up(median(known)) if len(known) >= LEAST_GOOD else None


@dataclass(frozen=True, slots=True)
class Beside:
    """What a gram kept took besides its metal, and in the middle of good casts; hundredths of a per cent more."""

    own_micro: int
    good_micro: int
    count: int
    more_pct100: int
    working: Working

    @property
    def is_good(self) -> bool:
        return self.more_pct100 <= NEAR_PCT100


def compare_gram(own: DayFigures, good: Sequence[DayFigures]) -> Beside | None:
    """A gram of a cast beside good ones; None where nothing was kept or there are too few of them.

    None too where theirs paid for time and none is written down of its own yet: that would be no good day, but no day.
    """
    if lacks_time(own, good):
        return None
    per_g, middle = own.besides_per_g, middle_of(good, lambda one: one.besides_per_g)
    if per_g is None or not middle or middle < 0:
        return None
    own_micro = round_half_up(per_g)
    more_pct100 = round_half_up((per_g / middle - 1) * PCT100_WHOLE)
    cost, metal, besides = (
        print_money(part) for part in (own.total_micro, own.metal_micro, own.besides_micro)
    )
    kept = print_mass(own.kept_mg)
    each = sorted(round_half_up(one.besides_per_g) for one in good if one.besides_per_g is not None)
    working = make_working(
        "What a gram kept took besides its metal",
        "what the cast cost less the metal in its pieces, for each gram kept, beside the middle of good casts",
        Given("good casts of its family before it", str(len(good)), "castings all kept"),
        Given("the same of each", ", ".join(map(print_money, each)), "least first"),
        Given("in the middle", print_money(middle), "half took less, half took more"),
        Step(f"{cost} − {metal}", besides),
        Step(f"{besides}, over {kept} kept", print_money(own_micro)),
        Step(_say_apart(more_pct100), print_percent(abs(more_pct100))),
        result=print_money(own_micro),
        notes=("The metal in the pieces is there still, and what it cost is not the doing of the day.",),
    )
    return Beside(own_micro, middle, len(good), more_pct100, working)


def lacks_time(own: DayFigures, others: Sequence[DayFigures]) -> bool:
    """Whether no time is written down of a cast, and of others it is."""
    return not own.seconds and any(one.seconds for one in others)


def _say_apart(more_pct100: int) -> str:
    return "that is more than the middle by" if more_pct100 > 0 else "that is less than the middle by"


def say_verdict(own: DayFigures, failed: bool, beside: Beside | None) -> str:
    """The answer in a few words."""
    if own.kept_mg <= 0:
        return "No: nothing was kept."
    if failed:
        return "In part: some of it failed."
    if beside is None:
        return "It came out."
    if beside.is_good:
        return "Yes, as your good days are."
    return f"It came out, at {print_percent(_whole(beside.more_pct100))} more than your good days take."


def _whole(pct100: int) -> int:
    """Whole per cent: to a hundredth of one nobody compares days."""
    return round_half_up(Fraction(pct100, 100)) * 100
