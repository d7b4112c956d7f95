"""Reorder points against a textbook and against tables of the distributions."""

from datetime import date
from fractions import Fraction

from inventory.core.reorder import (
    ReorderInput,
    Use,
    compute_normal_point,
    compute_poisson_point,
    compute_reorder,
)

# A lead time of one week, so that a week's demand is the demand in the lead time; in thousandths of a unit.
FIFTY_WITH_SPREAD_FIVE = Use(Fraction(50_000), Fraction(5_000**2), 52)


def test_demand_in_the_lead_time_of_fifty_with_spread_five():
    """Demand in the lead time N(50, 5), 97 %: reorder at 59.40; read in a textbook, its title not kept."""
    point = compute_normal_point(FIFTY_WITH_SPREAD_FIVE, 7, 0, 9_700)
    assert round(Fraction(point, 1000), 2) == Fraction("59.40")


def test_the_same_as_a_material_of_the_studio():
    """The same textbook's 59.40: as grams the sum shows it exactly, and the point is the next whole gram."""
    known = ReorderInput(
        on_hand=59_404,
        use=FIFTY_WITH_SPREAD_FIVE,
        lead_days=7,
        lead_spread_days=0,
        certainty_pct100=9_700,
        today=date(2026, 6, 1),
    )
    reorder = compute_reorder(known)
    assert "59.404\u00a0g" in [step.result for step in reorder.working.steps]
    assert reorder.working.result == "order at 60\u00a0g"
    assert reorder.is_due
    assert reorder.order_by == date(2026, 6, 1)


def test_single_demands_of_ten_in_the_lead_time():
    """scipy.stats: Poisson 10 in the lead time, 95 %: 15."""
    assert compute_poisson_point(Fraction(10), 9_500) == 15
