"""Which loss is out of the ordinary: a chart of single values and their moving range, and runs in it.

Losses are hundredths of a per cent of the charge, in the order of the work. The limits come from the first casts of a
family of metals and stay, so that no odd cast widens the limit that should catch it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from studio.kit.printing import print_decimal, print_percent
from studio.kit.units import round_half_up
from studio.kit.working import Given, Step, Working, make_working

CONTROL_SOURCE = "NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2: individuals and moving range"
#: How wide the mean range of two values is, in standard deviations (same source).
RANGE_PER_DEVIATION = Fraction("1.128")
SIGMAS = 3
#: With fewer casts the limits say more about chance than about the studio.
LEAST_CASTS = 8
#: So many set the limits, which then stay: common practice is twenty to twenty-five.
BASE_CASTS = 20
#: Of four casts at least three count as ordinary, however far the fourth is from them.
ORDINARY_OF, ORDINARY = 4, 3


@dataclass(frozen=True, slots=True)
class ControlLimits:
    """Mean, mean moving range and the limits of ordinary values, exact; with the sum."""

    mean: Fraction
    mean_range: Fraction
    upper: Fraction
    lower: Fraction
    working: Working

    @property
    def deviation(self) -> Fraction:
        """One standard deviation, as the moving range estimates it."""
        return self.mean_range / RANGE_PER_DEVIATION

    @property
    def mean_pct100(self) -> int:
        return round_half_up(self.mean)

    @property
    def upper_pct100(self) -> int:
        return round_half_up(self.upper)

    @property
    def lower_pct100(self) -> int:
        return round_half_up(self.lower)


def compute_control_limits(values: Sequence[int | Fraction], left_out: int = 0) -> ControlLimits:
    """Limits from values in the order of the work; `left_out` is how many more were looked at.

    Raises ValueError for fewer than two.
    """
    if len(values) < 2:
        raise ValueError("one value has no range")
    exact = [Fraction(value) for value in values]
    mean = sum(exact, Fraction(0)) / len(exact)
    ranges = [abs(later - earlier) for earlier, later in zip(exact, exact[1:], strict=False)]
    mean_range = sum(ranges, Fraction(0)) / len(ranges)
    reach = SIGMAS * mean_range / RANGE_PER_DEVIATION
    upper, lower = mean + reach, mean - reach
    givens = [Given("casts looked at", str(len(exact) + left_out), "the casts that set the limits")]
    if left_out:
        givens.append(Given("of them left out", str(left_out), "each lost more than the others make usual"))
    # Finer than the limits that are reached from them, so that a calculator finds the same.
    mean_said, range_said = _percent(mean, 4), _percent(mean_range, 4)
    working = make_working(
        "What casts usually lose at most",
        "the mean loss, and three standard deviations below and above it; a deviation is the mean difference "
        "between one cast and the next, divided by 1.128",
        *givens,
        Step("mean loss", mean_said),
        Step("mean difference between one cast and the next", range_said),
        Step(f"at least: {mean_said} − 3 × {range_said} ÷ 1.128", _percent(lower)),
        Step(f"at most: {mean_said} + 3 × {range_said} ÷ 1.128", _percent(upper)),
        source=CONTROL_SOURCE,
    )
    return ControlLimits(mean, mean_range, upper, lower, working)


def compute_usual_loss(shares: Sequence[int]) -> ControlLimits | None:
    """What casts usually lose at most, from losses in the order of the work; None while there are few.

    A cast is judged by the others, so that no odd one widens the limit that should catch it. The two that lost most
    are judged without each other too, or the one would hide the other.
    """
    if len(shares) < LEAST_CASTS:
        return None
    rising = sorted(range(len(shares)), key=lambda place: (shares[place], place))
    ordinary = len(shares)
    while fewer := next(_with_fewer(shares, rising, ordinary), 0):
        ordinary = fewer
    return _limit(shares, rising, ordinary)


def _with_fewer(shares: Sequence[int], rising: Sequence[int], ordinary: int) -> Iterator[int]:
    """How many stay ordinary where the highest, or the two highest, lost more than the rest makes usual."""
    for left in (ordinary - 1, ordinary - 2):
        if left * ORDINARY_OF < len(shares) * ORDINARY:
            return
        if shares[rising[left]] > _limit(shares, rising, left).upper_pct100:
            yield left


def _limit(shares: Sequence[int], rising: Sequence[int], ordinary: int) -> ControlLimits:
    """Of those that lost least, so many of them, in the order of the work."""
    kept = [shares[place] for place in sorted(rising[:ordinary])]
    return compute_control_limits(kept, len(shares) - ordinary)


def _percent(exact: Fraction, decimals: int = 3) -> str:
    """To the thousandth of a per cent, or finer, because means of hundredths are finer than hundredths."""
    if exact.denominator == 1:
        return print_percent(int(exact))
    return print_decimal(round_half_up(exact * 10 ** (decimals - 2)), decimals, most=decimals) + "\u00a0%"


class Rule(StrEnum):
    """Which run of values is out of the ordinary (Western Electric 1956)."""

    BEYOND_THREE = "beyond three deviations"
    TWO_OF_THREE = "two of three beyond two deviations"
    FOUR_OF_FIVE = "four of five beyond one deviation"
    EIGHT = "eight on one side"


#: Of so many values in a row so many lie beyond so many deviations, on one side. The first that fits is said.
_RUNS = (
    (Rule.BEYOND_THREE, 1, 1, 3),
    (Rule.TWO_OF_THREE, 3, 2, 2),
    (Rule.FOUR_OF_FIVE, 5, 4, 1),
    (Rule.EIGHT, 8, 8, 0),
)
_WORDS = {
    (Rule.BEYOND_THREE, 1): "lost more than is usual",
    (
        Rule.BEYOND_THREE,
        -1,
    ): "lost less than is usual, or gained: weigh again, and look for metal of another cast",
    (Rule.TWO_OF_THREE, 1): "is the second of three that lost much",
    (Rule.TWO_OF_THREE, -1): "is the second of three that lost little",
    (Rule.FOUR_OF_FIVE, 1): "is the fourth of five on the high side",
    (Rule.FOUR_OF_FIVE, -1): "is the fourth of five on the low side",
    (Rule.EIGHT, 1): "is the eighth in a row above the mean: something has changed",
    (Rule.EIGHT, -1): "is the eighth in a row below the mean: something has changed",
}


@dataclass(frozen=True, slots=True)
class Signal:
    """A value at which a rule speaks: its place from 0, and its side, 1 above the mean and -1 below."""

    place: int
    rule: Rule
    side: int

    @property
    def words(self) -> str:
        return _WORDS[self.rule, self.side]


def find_signals(values: Sequence[int | Fraction], limits: ControlLimits) -> list[Signal]:
    """What the run rules say of values in the order of the work, at most one signal for each.

    A run speaks when it becomes complete, by a value that belongs to it, and is not repeated while it goes on.
    Values that lie just on a line are within it.
    """
    runs = [
        (rule, side, _complete(values, limits.mean + side * deviations * limits.deviation, side, span, count))
        for rule, span, count, deviations in _RUNS
        for side in (1, -1)
    ]
    signals = []
    for place in range(len(values)):
        for rule, side, complete in runs:
            goes_on = rule is not Rule.BEYOND_THREE and place and complete[place - 1]
            if complete[place] and not goes_on:
                signals.append(Signal(place, rule, side))
                break
    return signals


def _complete(
    values: Sequence[int | Fraction], line: Fraction, side: int, span: int, count: int
) -> list[bool]:
    """For each value, whether it lies beyond a line, and so many of the last ones with it."""
    beyond = [(value * line.denominator - line.numerator) * side > 0 for value in values]
    return [
        beyond[place] and sum(beyond[max(0, place + 1 - span) : place + 1]) >= count
        for place in range(len(values))
    ]


@dataclass(frozen=True, slots=True)
class FamilyLimits:
    """What casts of one family of metals usually lose; no `limits` while there are few of them.

    `count` casts set the limits; they are frozen once there were enough, or when the studio set them anew.
    """

    count: int = 0
    limits: ControlLimits | None = None
    is_frozen: bool = False

    @property
    def upper_pct100(self) -> int | None:
        return self.limits.upper_pct100 if self.limits else None

    @property
    def sentence(self) -> str:
        """How the limits came about, in a sentence."""
        if self.limits is None:
            more = LEAST_CASTS - self.count
            casts = "1 more cast" if more == 1 else f"{more} more casts"
            return f"Too few casts to say what is usual: after {casts} there will be limits."
        if self.is_frozen:
            return f"The limits were set by {self.count} casts and stay until you set them anew."
        return f"The limits come from {self.count} casts; from {BASE_CASTS} on they stay."


def compute_family_limits(
    shares: Sequence[int], is_renewed: bool = False, but: int | None = None
) -> FamilyLimits:
    """Limits from the losses of the casts that set them; `but` is the place of one that is judged, left out of them.

    `is_renewed` when the studio chose the casts itself.
    """
    counted = [share for place, share in enumerate(shares) if place != but]
    limits = compute_usual_loss(counted)
    if limits is None:
        return FamilyLimits(len(counted))
    is_frozen = is_renewed or len(shares) >= BASE_CASTS
    family = FamilyLimits(len(counted), limits, is_frozen)
    working = replace(limits.working, notes=(*limits.working.notes, family.sentence))
    return replace(family, limits=replace(limits, working=working))
