"""The control chart of losses against its published example."""

from fractions import Fraction

from inventory.core.weighing import compute_control_limits

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (read in copies): ten flow rates.
FLOW = ("49.6", "47.6", "49.9", "51.3", "47.8", "51.2", "52.6", "52.4", "53.6", "52.1")


def test_mean_range_and_limits_of_the_handbooks_example():
    limits = compute_control_limits([Fraction(value) for value in FLOW])
    assert limits.mean == Fraction("50.81")
    assert abs(limits.mean_range - Fraction("1.8778")) < Fraction("0.00005")
    # The handbook rounds the constant 1.128 a little otherwise: 0.004 is left for that.
    assert abs(limits.upper - Fraction("55.8041")) < Fraction("0.004")
    assert abs(limits.lower - Fraction("45.8159")) < Fraction("0.004")
