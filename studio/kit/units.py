"""How many of a small unit make a larger one, and the one rounding that the whole studio uses."""

from decimal import Decimal
from fractions import Fraction

MG_PER_G = 1_000
MG_PER_KG = 1_000_000
MICRO_PER_UNIT = 1_000_000
UL_PER_L = 1_000_000
UM_PER_MM = 1_000
WH_PER_KWH = 1_000
MG_CM3_PER_G_CM3 = 1_000
MINUTES_PER_HOUR = 60
SECONDS_PER_MINUTE = 60
SECONDS_PER_HOUR = 3_600
PCT100_PER_PERCENT = 100
PCT100_WHOLE = 10_000
PPM_PER_MILLE = 1_000
PER_MILLE_WHOLE = 1_000
MELTS_MILLI_PER_MELT = 1_000

OUNCES = ("oz", "ozs", "ounce", "ounces")
"""Words that may mean the ounce troy or the ounce avoirdupois."""


def divide_half_up(numerator: int, denominator: int) -> int:
    """Divide exactly and round once to a whole number, a half going away from zero.

    A sum and its reversal round alike, so they cancel. Raises ZeroDivisionError for denominator 0.
    """
    if denominator == 0:
        raise ZeroDivisionError("division of a quantity by nothing")
    sign = -1 if (numerator < 0) != (denominator < 0) else 1
    top, bottom = abs(numerator), abs(denominator)
    return sign * ((2 * top + bottom) // (2 * bottom))


def round_half_up(exact: Fraction | Decimal | int) -> int:
    """Round an exact number once to a whole number, a half going away from zero."""
    fraction = Fraction(exact)
    return divide_half_up(fraction.numerator, fraction.denominator)
