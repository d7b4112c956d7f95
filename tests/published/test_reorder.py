"""Reorder points against a textbook and against tables of the distributions."""

from fractions import Fraction

from inventory.core.reorder import (
    Use,
    compute_normal_point,
    compute_poisson_point,
    print_finely,
    round_point_up,
)

# A lead time of one week, so that a week's demand is the demand in the lead time; in thousandths of a unit.
FIFTY_WITH_SPREAD_FIVE = Use(Fraction(50_000), Fraction(5_000**2), 52)


def test_demand_in_the_lead_time_of_fifty_with_spread_five():
    """Demand in the lead time N(50, 5), 97 %: reorder at 59.40; read in a textbook, its title not kept."""
    point = compute_normal_point(FIFTY_WITH_SPREAD_FIVE, 7, 0, 9_700)
    assert round(Fraction(point, 1000), 2) == Fraction("59.40")
    assert print_finely(point, "mass") == "59.404\u00a0g" and round_point_up(point, "mass") == 60_000


def test_single_demands_of_ten_in_the_lead_time():
    """scipy.stats: Poisson 10 in the lead time, 95 %: 15."""
    assert compute_poisson_point(Fraction(10), 9_500) == 15
