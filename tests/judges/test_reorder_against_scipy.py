"""Reorder points against scipy.stats, which knows nothing of this studio."""

from fractions import Fraction
from math import ceil, sqrt

import pytest
from scipy.stats import norm, poisson

from inventory.core.reorder import Use, compute_normal_point, compute_poisson_point

CERTAINTIES = [5_000, 8_000, 9_000, 9_500, 9_700, 9_900, 9_999]


@pytest.mark.parametrize("certainty_pct100", CERTAINTIES)
@pytest.mark.parametrize(("lead_days", "lead_spread_days"), [(7, 0), (10, 3), (1, 1), (60, 14)])
@pytest.mark.parametrize(("mean", "deviation"), [(50_000, 5_000), (1_000_000, 0), (3_000, 9_000)])
def test_stock_at_which_to_order(mean, deviation, lead_days, lead_spread_days, certainty_pct100):
    weeks, late = lead_days / 7, lead_spread_days / 7
    spread = sqrt(weeks * deviation**2 + mean**2 * late**2)
    judged = norm.ppf(certainty_pct100 / 10_000, loc=mean * weeks, scale=spread) if spread else mean * weeks
    point = compute_normal_point(
        Use(Fraction(mean), Fraction(deviation**2), 52), lead_days, lead_spread_days, certainty_pct100
    )
    assert abs(point - ceil(judged)) <= 1


@pytest.mark.parametrize("certainty_pct100", CERTAINTIES)
@pytest.mark.parametrize("mean", ["0.02", "0.5", "1", "3.7", "10", "80", "900"])
def test_items_that_go_one_at_a_time(mean, certainty_pct100):
    judged = poisson.ppf(certainty_pct100 / 10_000, float(mean))
    assert compute_poisson_point(Fraction(mean), certainty_pct100) == judged
