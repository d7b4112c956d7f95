"""The textbook's reorder points, which the studio's own stands beside, and how quantities to order are rounded.

Quantities are in the material's small unit; uses are counted by the week, deliveries by the day. Certainty
is hundredths of a per cent. Square roots are decimals; only the factor for certainty is a float.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil
from statistics import NormalDist

from studio.kit.printing import SPACE, about_decimals, print_decimal, print_quantity
from studio.kit.units import PCT100_WHOLE, round_half_up

DAYS_PER_WEEK = 7
# Milligrams in a gram, microlitres in a millilitre.
SMALL_IN_A_WHOLE = 1_000
# A date beyond this says nothing that a person could plan by.
FARTHEST_DAYS = 730


@dataclass(frozen=True, slots=True)
class Use:
    """What a week takes: mean and variance (of a sample) over the weeks that were looked at."""

    mean: Fraction
    variance: Fraction
    weeks: int

    @property
    def deviation(self) -> Decimal:
        return _root(self.variance)


def compute_use(weekly: Sequence[int]) -> Use:
    """Mean and sample variance of weekly uses, weeks without use counted as 0; one week shows no spread."""
    weeks = len(weekly)
    if not weeks:
        return Use(Fraction(0), Fraction(0), 0)
    mean = Fraction(sum(weekly), weeks)
    squares = sum(((used - mean) ** 2 for used in weekly), Fraction(0))
    return Use(mean, squares / (weeks - 1) if weeks > 1 else Fraction(0), weeks)


def compute_certainty_factor(certainty_pct100: int) -> Decimal:
    """How many standard deviations cover a certainty. Raises ValueError unless it is above 0 and below 100 %."""
    check_certainty(certainty_pct100)
    return Decimal(NormalDist().inv_cdf(certainty_pct100 / PCT100_WHOLE))


def compute_spread(use: Use, lead_days: int, lead_spread_days: int) -> Decimal:
    """Standard deviation of what is taken before a parcel comes: sqrt(L sd^2 + d^2 sL^2)."""
    lead = Fraction(lead_days, DAYS_PER_WEEK)
    lead_spread = Fraction(lead_spread_days, DAYS_PER_WEEK)
    return _root(lead * use.variance + use.mean**2 * lead_spread**2)


def compute_normal_point(use: Use, lead_days: int, lead_spread_days: int, certainty_pct100: int) -> int:
    """Stock at which to order: r = d L + z sqrt(L sd^2 + d^2 sL^2), rounded up, never below zero (Stevenson,
    Operations Management)."""
    mean = use.mean * lead_days / DAYS_PER_WEEK
    factor = compute_certainty_factor(certainty_pct100)
    safety = factor * compute_spread(use, lead_days, lead_spread_days)
    return max(0, ceil(mean + Fraction(safety)))


def compute_poisson_point(mean: Fraction, certainty_pct100: int) -> int:
    """The fewest items that meet a Poisson demand of this mean with this certainty."""
    check_certainty(certainty_pct100)
    wanted = Decimal(certainty_pct100) / PCT100_WHOLE
    average = Decimal(mean.numerator) / mean.denominator
    chance = covered = (-average).exp()
    items = 0
    while covered < wanted:
        items += 1
        chance = chance * average / items
        covered += chance
    return items


def round_most_down(most: int, unit: str) -> int:
    """To a tenth of a kilogram or litre from one on, else to a whole gram or millilitre. Items stay."""
    if unit == "items":
        return most
    whole = _order_step(most)
    return most // whole * whole


def round_least_up(least: int, unit: str) -> int:
    """The same upwards."""
    if unit == "items":
        return least
    whole = _order_step(least)
    return -(-least // whole) * whole


def _order_step(quantity: int) -> int:
    return SMALL_IN_A_WHOLE * (100 if quantity >= 1_000 * SMALL_IN_A_WHOLE else 1)


def round_point_up(point: int, unit: str) -> int:
    """The next whole gram or millilitre; a tenth below ten of them, a hundredth below one. Items stay."""
    if unit == "items":
        return point
    step = SMALL_IN_A_WHOLE // 10 ** about_decimals(Fraction(point, SMALL_IN_A_WHOLE))
    return -(-point // step) * step


def check_certainty(certainty_pct100: int) -> None:
    """Raises ValueError unless it is above 0 and below 100 %."""
    if not 0 < certainty_pct100 < PCT100_WHOLE:
        raise ValueError("certainty is above 0 and below 100 %")


def _root(square: Fraction) -> Decimal:
    return (Decimal(square.numerator) / square.denominator).sqrt()


def print_finely(quantity: Fraction | Decimal | int, unit: str) -> str:
    """A quantity with the digits it takes to reckon on: a thousandth of a gram, a millilitre or an item."""
    if unit != "items":
        return print_quantity(round_half_up(quantity), unit)
    number = print_decimal(round_half_up(quantity * 1000), 3, most=3)
    return number + SPACE + ("item" if number == "1" else "items")
