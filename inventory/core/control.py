"""Whether the loss of a cast is out of the ordinary: a control chart of single values and moving ranges.

Shares are hundredths of a per cent.
"""

from collections.abc import Sequence
from dataclasses import dataclass
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


@dataclass(frozen=True, slots=True)
class ControlLimits:
    """Mean, mean moving range and the limits of ordinary values, exact; with the sum."""

    mean: Fraction
    mean_range: Fraction
    upper: Fraction
    lower: Fraction
    working: Working

    @property
    def mean_pct100(self) -> int:
        return round_half_up(self.mean)

    @property
    def upper_pct100(self) -> int:
        return round_half_up(self.upper)


def compute_control_limits(values: Sequence[int | Fraction]) -> ControlLimits:
    """Limits from values in the order of the work. Raises ValueError for fewer than two."""
    if len(values) < 2:
        raise ValueError("one value has no range")
    exact = [Fraction(value) for value in values]
    mean = sum(exact, Fraction(0)) / len(exact)
    ranges = [abs(later - earlier) for earlier, later in zip(exact, exact[1:], strict=False)]
    mean_range = sum(ranges, Fraction(0)) / len(ranges)
    reach = SIGMAS * mean_range / RANGE_PER_DEVIATION
    upper, lower = mean + reach, mean - reach
    working = make_working(
        "When a loss is out of the ordinary",
        "the mean loss, and three standard deviations above it; a deviation is the mean difference "
        "between one cast and the next, divided by 1.128",
        Given("casts looked at", str(len(exact)), "your last casts"),
        Step("mean loss", _percent(mean)),
        Step("mean difference between one cast and the next", _percent(mean_range)),
        Step(f"{_percent(mean)} + 3 × {_percent(mean_range)} ÷ 1.128", _percent(upper)),
        source=CONTROL_SOURCE,
    )
    return ControlLimits(mean, mean_range, upper, lower, working)


def _percent(exact: Fraction) -> str:
    """To the thousandth of a per cent, because means of hundredths are finer than hundredths."""
    if exact.denominator == 1:
        return print_percent(int(exact))
    return print_decimal(round_half_up(exact * 10), 3, most=3) + "\u00a0%"
