"""Prices for a unit of mass brought to one unit, so that they can be compared; and price rules in words."""

from fractions import Fraction

from studio.kit.measures import MASS
from studio.kit.printing import SPACE, print_decimal
from studio.kit.units import MG_PER_G, MG_PER_KG, round_half_up


def compute_price_per_kg(price_micro: int, unit: str) -> int:
    """Millionths of the currency for a kilogram, rounded once; `unit` is one of the kit's PRICE_UNITS."""
    return round_half_up(Fraction(price_micro) * MG_PER_KG / Fraction(MASS.factors[unit]))


def compute_price_per_g(price_micro: int, unit: str) -> int:
    """Millionths of the currency for a gram, rounded once; `unit` is one of the kit's PRICE_UNITS."""
    return round_half_up(Fraction(price_micro) * MG_PER_G / Fraction(MASS.factors[unit]))


def word_price_per_kg(price_micro_per_kg: int) -> tuple[int, str]:
    """The same price as it is best typed: for a gram where that is exact, else for the kilogram."""
    per_g, rest = divmod(price_micro_per_kg, MG_PER_KG // MG_PER_G)
    return (price_micro_per_kg, "kg") if rest else (per_g, "g")


def print_rule_value(hundredths: int, method: str) -> str:
    """ "60 %" for a margin in hundredths of a per cent, "2.5 times" for hundredths of the cost."""
    number = print_decimal(hundredths, 2, most=2)
    return f"{number}{SPACE}{'%' if method == 'margin' else 'times'}"
