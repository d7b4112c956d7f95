"""Exact units of the trade, and the one rounding that the whole studio uses.

Sources: the international yard and pound agreement of 1959 (inch 25.4 mm, grain 64.79891 mg) and the US
gallon of 231 cubic inches, from which the fluid ounce follows. The metric carat is 200 mg.
"""

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
PCT100_PER_PERCENT = 100
PCT100_WHOLE = 10_000
PER_MILLE_WHOLE = 1_000
MELTS_MILLI_PER_MELT = 1_000

MASS_MG: dict[str, Decimal] = {
    "g": Decimal("1000"),
    "kg": Decimal("1000000"),
    "mg": Decimal("1"),
    "ozt": Decimal("31103.4768"),
    "dwt": Decimal("1555.17384"),
    "gr": Decimal("64.79891"),
    "ct": Decimal("200"),
    "oz av": Decimal("28349.523125"),
    "lb": Decimal("453592.37"),
}
"""Milligrams in one of each unit of mass; `ct` is the metric carat, a mass of stones, never a fineness."""

VOLUME_UL: dict[str, Decimal] = {
    "ml": Decimal("1000"),
    "l": Decimal("1000000"),
    "cm3": Decimal("1000"),
    "fl oz": Decimal("29573.5295625"),
}
"""Microlitres in one of each unit of volume; `fl oz` is the US fluid ounce."""

LENGTH_UM: dict[str, Decimal] = {
    "mm": Decimal("1000"),
    "cm": Decimal("10000"),
    "in": Decimal("25400"),
}
"""Micrometres in one of each unit of length."""


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


def compute_mass_mg(amount: Decimal | Fraction | int | str, unit: str) -> int:
    """Milligrams in `amount` of a unit named in MASS_MG, rounded once. Raises KeyError for another unit."""
    return round_half_up(Fraction(amount) * Fraction(MASS_MG[unit]))


def compute_volume_ul(amount: Decimal | Fraction | int | str, unit: str) -> int:
    """Microlitres in `amount` of a unit named in VOLUME_UL, rounded once. Raises KeyError for another unit."""
    return round_half_up(Fraction(amount) * Fraction(VOLUME_UL[unit]))


def compute_length_um(amount: Decimal | Fraction | int | str, unit: str) -> int:
    """Micrometres in `amount` of a unit named in LENGTH_UM, rounded once. Raises KeyError for another unit."""
    return round_half_up(Fraction(amount) * Fraction(LENGTH_UM[unit]))


def compute_fine_ug(mass_mg: int, per_mille: int) -> int:
    """Fine metal in micrograms: milligrams times parts per thousand, exact for every whole fineness."""
    return mass_mg * per_mille
