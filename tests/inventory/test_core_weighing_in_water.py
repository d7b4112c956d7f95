"""Density and fineness from a weight in air and in water, against figures from outside the studio."""

from fractions import Fraction

import pytest

from inventory.core.metal import compute_mixture_density
from inventory.core.weighing_in_water import compute_silver_share, compute_water_density, weigh_in_water

# CRC Handbook of Chemistry and Physics, density of water (from memory), g/cm3.
WATER = {15: "0.9991", 20: "0.9982", 25: "0.9970"}


@pytest.mark.parametrize(("celsius", "density"), WATER.items())
def test_water_is_as_dense_as_the_table_says_and_between_its_lines(celsius, density):
    assert round(compute_water_density(celsius) / 1000, 4) == Fraction(density)
    assert compute_water_density(20) > compute_water_density(21) > compute_water_density(25)
    # 22 C: 0.99777 (CRC, from memory).
    assert abs(compute_water_density(22) - Fraction("997.77")) < Fraction("0.03")


def test_a_hundred_grams_of_sterling():
    """100.00 g that weighs 90.37 g in water of 20 C is 10.366 (computed); sterling is published as 10.36."""
    found = weigh_in_water(100_000, 90_370, 20, 10)
    assert round(found.density_mg_cm3) == 10_366
    # d = 0.01 g: u = 0.01/sqrt(3); U = 2 rho u sqrt(100^2 + 90.37^2) / 9.63^2 = 0.0168 (computed by hand).
    assert abs(found.off_mg_cm3 - Fraction("16.76")) < Fraction("0.05")
    assert found.low_ppm < 925_000 < found.high_ppm and not found.problem
    assert "no stone" in found.working.notes[0]


@pytest.mark.parametrize(("silver", "published"), [(925, "10.36"), (835, "10.2")])
def test_fineness_from_the_published_densities(silver, published):
    """Published densities of the silver alloys (as in tests/published/test_density.py) are within 0.1 %."""
    share = compute_silver_share(Fraction(published) * 1000)
    assert abs(share * 1000 - silver) < 8
    density, _ = compute_mixture_density({"Ag": silver, "Cu": 1000 - silver})
    assert abs(compute_silver_share(Fraction(density)) * 1000 - silver) < Fraction(1, 2)


def test_both_pure_metals_stand_at_the_ends():
    assert compute_silver_share(Fraction(10_500)) == 1 and compute_silver_share(Fraction(8_960)) == 0


def test_what_cannot_be_silver_and_copper_is_said():
    assert "lighter than copper" in weigh_in_water(100_000, 85_000, 20, 10).problem
    assert "heavier than silver" in weigh_in_water(100_000, 94_000, 20, 10).problem
    edge = weigh_in_water(100_000, 90_500, 20, 100)
    assert edge.high_ppm == 1_000_000 and not edge.problem


@pytest.mark.parametrize("given", [(0, 0, 20), (100, 100, 20), (100, -1, 20), (100, 90, 9), (100, 90, 31)])
def test_nonsense_is_refused(given):
    with pytest.raises(ValueError, match=r"weighs less|not in the table"):
        weigh_in_water(*given, 10)
