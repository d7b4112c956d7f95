"""The control chart of losses against its published example, and the run rules against vectors."""

from fractions import Fraction

import pytest

from inventory.core.control_chart import (
    RANGE_PER_DEVIATION,
    ControlLimits,
    Rule,
    compute_control_limits,
    find_signals,
)
from studio.kit.working import Step, make_working

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (read in copies): ten flow rates.
FLOW = ("49.6", "47.6", "49.9", "51.3", "47.8", "51.2", "52.6", "52.4", "53.6", "52.1")


def test_mean_range_and_limits_of_the_handbooks_example():
    limits = compute_control_limits([Fraction(value) for value in FLOW])
    assert limits.mean == Fraction("50.81")
    assert abs(limits.mean_range - Fraction("1.8778")) < Fraction("0.00005")
    # The handbook rounds the constant 1.128 a little otherwise: 0.004 is left for that.
    assert abs(limits.upper - Fraction("55.8041")) < Fraction("0.004")
    assert abs(limits.lower - Fraction("45.8159")) < Fraction("0.004")


def test_the_handbooks_example_is_in_control():
    values = [Fraction(value) for value in FLOW]
    assert find_signals(values, compute_control_limits(values)) == []


# Mean 0, one deviation 1.
UNIT = ControlLimits(
    Fraction(0), RANGE_PER_DEVIATION, Fraction(3), Fraction(-3), make_working("", "", Step("", ""))
)


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize(
    ("values", "signals"),
    [
        ("0.1 -0.4 0.3 3.2 0.2", [(4, Rule.BEYOND_THREE)]),
        ("0.2 0.5 0.1 0.3 0.6 0.4 0.2 0.7 0.3 -0.1", [(8, Rule.EIGHT)]),
        ("0.1 2.2 0.3 2.4 -0.2", [(4, Rule.TWO_OF_THREE)]),
        ("1.2 1.4 0.2 1.6 1.1 -0.3", [(5, Rule.FOUR_OF_FIVE)]),
        ("2.2 -2.3", []),
    ],
)
def test_the_run_rules_of_western_electric(values, signals, side):
    """Western Electric, Statistical Quality Control Handbook, 1956, for the rules; the vectors are ours.

    What lies below the mean, a gain, speaks as what lies above it.
    """
    found = find_signals([side * Fraction(value) for value in values.split()], UNIT)
    assert [(one.place + 1, one.rule, one.side) for one in found] == [(*each, side) for each in signals]
    assert all(one.words for one in found)
