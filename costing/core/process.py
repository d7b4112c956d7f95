"""The loss of a melt: what of it is normal, and what the rest cost.

A normal loss is part of making the good castings; a loss beyond it is abnormal, costs what good castings
cost, and is set aside. Masses are milligrams, money millionths of the currency.
"""

from fractions import Fraction

from studio.kit.units import MG_PER_KG, PCT100_WHOLE, divide_half_up, round_half_up

PROCESS_SOURCE = (
    "process costing as in ACCA F2, ch. 9; by-products by IAS 2, para. 14, abnormal loss para. 16"
)


def compute_allowed_loss(charge_mg: int, normal_pct100: int) -> int:
    """The loss that counts as normal for a charge, whether it came about or not."""
    return round_half_up(Fraction(charge_mg * normal_pct100, PCT100_WHOLE))


def compute_normal_loss(charge_mg: int, lost_mg: int, normal_pct100: int) -> tuple[int, int]:
    """Split a loss into (normal_mg, abnormal_mg): normal is at most its share of the charge.

    A loss below zero, which is the scale's error, is all normal. Where less was lost than is normal, the pieces
    carry what was lost: no abnormal gain is booked, and the process account is not cited.
    """
    normal_mg = min(lost_mg, compute_allowed_loss(charge_mg, normal_pct100))
    return normal_mg, lost_mg - normal_mg


def compute_abnormal_value(net_micro: int, good_mg: int, abnormal_mg: int) -> int:
    """What an abnormal loss cost, at the price of a good gram: net x abnormal / (good + abnormal)."""
    if abnormal_mg <= 0:
        return 0
    return divide_half_up(net_micro * abnormal_mg, good_mg + abnormal_mg)


def compute_value_at_rate(mass_mg: int, micro_per_kg: int) -> int:
    """Worth of a mass at a price per kilogram."""
    return divide_half_up(mass_mg * micro_per_kg, MG_PER_KG)
