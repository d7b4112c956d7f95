"""How much a week takes, where use comes in lumps, and what may be taken before a parcel comes.

A series is what each week took, oldest first, in the material's small unit, weeks without use as 0.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import zip_longest
from math import lcm
from operator import mul

from studio.kit.units import PCT100_WHOLE

from .reorder import check_certainty

UNBIASED = "Syntetos and Boylan 2005: Croston's rate less a twentieth"
WEEKS_A_YEAR = 52
SMOOTHING = Fraction(1, 10)
"""The smoothing that both papers' followers commonly use."""

# Weeks of a heavy material differ in the first three digits; a finer step would not be seen on a scale of kilograms.
_STEPS_IN_LARGEST = 500
_STEPS_FAR_AHEAD = 25


@dataclass(frozen=True, slots=True)
class LumpyRate:
    """What a use takes and how many weeks lie from one to the next, both smoothed; `uses` is how many there were."""

    size: Fraction
    interval: Fraction
    uses: int

    @property
    def croston(self) -> Fraction:
        """A week's mean use, which is too high by about a twentieth; 0 where nothing was used."""
        return self.size / self.interval if self.uses else Fraction(0)

    @property
    def unbiased(self) -> Fraction:
        """The same without that."""
        return self.croston * (1 - SMOOTHING / 2)


def compute_lumpy_rate(weekly: Iterable[int]) -> LumpyRate:
    """Smooth the uses and the waits between them, from the first use and its week on (Croston 1972)."""
    rates = [LumpyRate(Fraction(0), Fraction(0), 0), *follow_lumpy_rate(weekly)]
    return rates[-1]


def follow_lumpy_rate(weekly: Iterable[int]) -> Iterator[LumpyRate]:
    """The same as it stood at the end of each week."""
    size = interval = Fraction(0)
    waited = uses = 0
    for used in weekly:
        waited += 1
        if used:
            size = size + SMOOTHING * (used - size) if uses else Fraction(used)
            interval = interval + SMOOTHING * (waited - interval) if uses else Fraction(waited)
            waited, uses = 0, uses + 1
        yield LumpyRate(size, interval, uses)


@dataclass(frozen=True, slots=True)
class Sums:
    """Every sum that weeks drawn at random can come to: `ways[i]` of `total` draws come to `i * step`."""

    step: int
    ways: tuple[int, ...]
    total: int

    def chance_at_most(self, quantity: int) -> Fraction:
        """The chance that no more is taken than this."""
        if quantity < 0:
            return Fraction(0)
        return Fraction(sum(self.ways[: quantity // self.step + 1]), self.total)


def sum_weeks(weekly: Sequence[int], weeks: int, step: int = 0, from_level: bool = False) -> Sums:
    """The exact spread of what so many weeks take, each drawn from the series again.

    `step` is the least difference that is told apart, uses being rounded up to it; 0 takes one that keeps three digits.
    `from_level` adds what the stock lacks to a level already when it is first seen at or below it: a use takes it there
    and past it, a large one rather than a small one, every unit of it as likely as another to be the one that
    reached the level (the excess of a renewal process: Feller, An Introduction to Probability Theory, vol. 2, XI.4).
    Raises ValueError without a week to draw from, or for a level that no use reaches.

    All draws are counted at once: the weeks are written as one whole number in which the digit at place i says how many
    of them took i steps, and its power holds the ways to each sum, when a digit is wide enough for all of them.
    """
    if not weekly or weeks < 0 or (from_level and not any(weekly)):
        raise ValueError("weeks are drawn from at least one, and not fewer than none")
    step = step or max(1, max(weekly) // _STEPS_IN_LARGEST)
    used = [-(-one // step) for one in weekly]
    total = len(used) ** weeks * (sum(used) if from_level else 1)
    width = total.bit_length() // 8 + 1
    packed = sum(1 << 8 * width * one for one in used) ** weeks
    if from_level:
        ordered = sorted(used)
        above = (len(used) - bisect_right(ordered, past) for past in range(ordered[-1]))
        packed *= int.from_bytes(b"".join(count.to_bytes(width, "little") for count in above), "little")
    size = (weeks + from_level) * max(used) + 1
    digits = packed.to_bytes(width * size, "little")
    ways = (int.from_bytes(digits[at : at + width], "little") for at in range(0, width * size, width))
    return Sums(step, tuple(ways), total)


def compute_enough(spreads: Sequence[Sums], certainty_pct100: int) -> int:
    """The least stock that meets a draw from spreads that are equally likely, with this certainty.

    Raises ValueError unless the certainty is above 0 and below 100 %, or where spreads tell different steps apart.
    """
    check_certainty(certainty_pct100)
    if len({spread.step for spread in spreads}) != 1:
        raise ValueError("spreads that are mixed tell the same steps apart")
    # In whole numbers over one denominator, for there are thousands of sums to climb.
    whole = lcm(*(spread.total for spread in spreads))
    wanted, met = certainty_pct100 * whole * len(spreads), 0
    weights = [whole // spread.total * PCT100_WHOLE for spread in spreads]
    for place, ways in enumerate(zip_longest(*(spread.ways for spread in spreads), fillvalue=0)):
        met += sum(map(mul, weights, ways))
        if met >= wanted:
            return place * spreads[0].step
    raise AssertionError("every chance ends at one")


def weeks_until_empty(
    weekly: Sequence[int], on_hand: int, chance_pct100: int, most: int = WEEKS_A_YEAR
) -> int | None:
    """In how many weeks it is used up with at least this chance; None where not within `most` of them."""
    wanted = Fraction(chance_pct100, PCT100_WHOLE)
    if not any(weekly):
        return None
    step = max(1, max(weekly) // _STEPS_FAR_AHEAD)

    def is_empty(weeks: int) -> bool:
        return 1 - sum_weeks(weekly, weeks, step).chance_at_most(on_hand) >= wanted

    # The chance only grows with the weeks, and what lies far ahead takes long to count.
    low, high = 0, 1
    while high < most and not is_empty(high):
        low, high = high + 1, high * 2
    high = high if high < most else most + 1
    while low < high:
        middle = (low + high) // 2
        if is_empty(middle):
            high = middle
        else:
            low = middle + 1
    return low if low <= most else None
