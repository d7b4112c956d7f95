from fractions import Fraction

import pytest

from studio.kit import units


@pytest.mark.parametrize(
    ("top", "bottom", "rounded"),
    [
        (5, 2, 3),
        (-5, 2, -3),
        (5, -2, -3),
        (-5, -2, 3),
        (7, 3, 2),
        (8, 3, 3),
        (0, 9, 0),
        (49, 100, 0),
        (50, 100, 1),
    ],
)
def test_a_half_goes_away_from_zero(top, bottom, rounded):
    assert units.divide_half_up(top, bottom) == rounded


def test_dividing_by_nothing_is_the_programmers_mistake():
    with pytest.raises(ZeroDivisionError):
        units.divide_half_up(1, 0)


def test_rounding_happens_once_even_on_huge_numbers():
    assert units.round_half_up(Fraction(10**40 + 1, 2)) == (10**40 + 2) // 2
