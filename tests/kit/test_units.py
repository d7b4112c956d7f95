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


def test_a_typed_pennyweight_is_rounded_once_to_the_milligram():
    assert units.compute_mass_mg("12.5", "dwt") == 19440


def test_a_length_in_inches_is_whole_micrometres():
    assert units.compute_length_um(3, "in") == 76_200


def test_a_volume_in_fluid_ounces_is_whole_microlitres():
    assert units.compute_volume_ul("1.5", "fl oz") == 44_360


def test_an_unknown_unit_is_the_programmers_mistake():
    with pytest.raises(KeyError):
        units.compute_mass_mg(1, "oz")


def test_fine_metal_is_exact_in_micrograms():
    assert units.compute_fine_ug(12_410, 925) == 11_479_250
