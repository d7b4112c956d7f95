"""The textbook's reorder points, and how quantities to order are rounded."""

from decimal import Decimal
from fractions import Fraction

import pytest

from inventory.core.reorder import (
    Use,
    compute_certainty_factor,
    compute_normal_point,
    compute_poisson_point,
    compute_use,
    print_finely,
    round_least_up,
    round_most_down,
    round_point_up,
)

STEADY = Use(Fraction(700_000), Fraction(0), 12)


def test_a_week_takes_the_mean_and_weeks_without_use_count():
    use = compute_use([0, 400, 0, 800])
    assert use.mean == 300
    assert use.variance == Fraction(440_000, 3)
    assert use.weeks == 4


def test_a_single_week_shows_no_spread_and_none_takes_nothing():
    assert (compute_use([500]).mean, compute_use([500]).variance) == (500, 0)
    assert compute_use([]) == Use(Fraction(0), Fraction(0), 0)


def test_steady_use_is_ordered_again_at_what_the_delivery_takes():
    assert compute_normal_point(STEADY, 10, 0, 9_500) == 1_000_000
    assert compute_normal_point(STEADY, 10, 3, 9_500) > 1_000_000


def test_less_certainty_than_half_never_goes_below_zero():
    assert compute_normal_point(Use(Fraction(10), Fraction(10_000), 12), 10, 0, 100) == 0


@pytest.mark.parametrize("certainty_pct100", [0, 10_000])
def test_certainty_of_nothing_or_of_all_is_a_mistake_in_the_program(certainty_pct100):
    with pytest.raises(ValueError, match="below 100"):
        compute_certainty_factor(certainty_pct100)
    with pytest.raises(ValueError, match="below 100"):
        compute_poisson_point(Fraction(1), certainty_pct100)


@pytest.mark.parametrize(
    ("exact", "unit", "point"),
    [
        (1_400_239, "mass", 1_401_000),
        (1_400_000, "mass", 1_400_000),
        (4_201, "mass", 4_300),
        (231, "volume", 240),
        (0, "mass", 0),
        (7, "items", 7),
    ],
)
def test_the_point_is_rounded_up_to_what_a_person_would_weigh(exact, unit, point):
    assert round_point_up(exact, unit) == point


def test_nothing_is_wanted_of_what_nobody_takes():
    assert compute_poisson_point(Fraction(0), 9_999) == 0


def test_the_spread_of_a_week_is_the_root_of_its_variance():
    assert Use(Fraction(0), Fraction(25), 3).deviation == Decimal(5)


def test_what_is_ordered_is_rounded_to_what_a_person_would_order():
    assert round_most_down(11_449_999, "mass") == 11_400_000
    assert round_most_down(842_999, "mass") == 842_000
    assert round_most_down(7, "items") == round_least_up(7, "items") == 7
    assert round_least_up(11_400_001, "mass") == 11_500_000
    assert round_least_up(842_001, "mass") == 843_000
    assert round_least_up(842_000, "mass") == 842_000


def test_a_quantity_to_reckon_on_has_the_digits_for_it():
    assert print_finely(Fraction(1, 3), "items") == "0.333\u00a0items"
    assert print_finely(Fraction(1000), "items") == "1,000\u00a0items"
    assert print_finely(1, "items") == "1\u00a0item"
    assert print_finely(Fraction(1_234_567, 3), "mass") == "411.522\u00a0g"
