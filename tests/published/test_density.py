"""Densities and pattern-to-metal factors against figures from outside the studio."""

from fractions import Fraction

import pytest

from inventory.core.metal import PatternPart, compute_metal_needed, compute_mixture_density
from studio.kit.measures import MASS

# Elements: CRC Handbook of Chemistry and Physics, 80th ed., as carried by the PyPI package `periodictable`; read.
# Ideal mixture by mass fractions, 1/sum(w/rho), against published values; computed against read.
ALLOYS = [
    pytest.param({"Ag": 925, "Cu": 75}, "10.366", "10.36", "0.1", id="sterling"),
    pytest.param({"Ag": 835, "Cu": 165}, "10.210", "10.2", "0.1", id="silver 835"),
    pytest.param({"Au": 750, "Ag": 160, "Cu": 90}, "15.590", "15.58", "0.1", id="18 ct yellow"),
    pytest.param({"Au": 585, "Ag": 40, "Cu": 312, "Zn": 63}, "12.858", "13.07", "2", id="14 ct yellow"),
    pytest.param({"Cu": 89, "Sn": 11}, "8.743", "8.77", "0.4", id="bronze"),
    pytest.param({"Cu": 70, "Zn": 30}, "8.321", "8.53", "2.5", id="brass, which contracts"),
]


@pytest.mark.parametrize(("parts", "ideal", "published", "within_percent"), ALLOYS)
def test_mixture_density_is_the_ideal_one_and_near_the_published_one(parts, ideal, published, within_percent):
    density_mg_cm3, _ = compute_mixture_density(parts)
    assert density_mg_cm3 == Fraction(ideal) * 1000
    gap = abs(Fraction(density_mg_cm3, 1000) - Fraction(published)) / Fraction(published)
    assert gap * 100 <= Fraction(within_percent)


def test_the_mean_weighted_by_mass_is_not_used():
    """14 ct by that mean would be 14.96 g/cm3, 15 % too heavy (computed)."""
    density_mg_cm3, _ = compute_mixture_density({"Au": 585, "Ag": 40, "Cu": 312, "Zn": 63})
    assert abs(density_mg_cm3 - 14_960) > 1_500


def test_fourteen_carat_for_five_grams_of_wax_with_a_tenth_for_the_button():
    """Factor 13.5: 74.25 g; read in a supplier's worked example, its name not kept. Wax as 1.00: common practice."""
    wax = PatternPart("wax", mass_mg=5_000, density_mg_cm3=1_000)
    assert compute_metal_needed([wax], 13_500, button_pct100=1_000)[0] == 74_250


def test_a_tree_weighed_with_its_base_less_the_base():
    """Base and tree 153 g, base 144 g, factor 10.4, plus 10 %: 102.96 g; computed (its page prints 99.9, wrongly)."""
    wax = PatternPart("tree", mass_mg=153_000 - 144_000, density_mg_cm3=1_000)
    assert compute_metal_needed([wax], 10_400, button_pct100=1_000)[0] == 102_960


def test_the_same_piece_in_another_metal():
    """4 dwt of sterling in 14 ct: 4 x 13.07 / 10.40 = 5.03 dwt; read on a supplier's page, its name not kept."""
    piece = PatternPart("piece", mass_mg=MASS.read("4 dwt"), density_mg_cm3=10_400)
    needed_mg, _ = compute_metal_needed([piece], 13_070)
    assert round(Fraction(needed_mg) / Fraction("1555.17384"), 2) == Fraction("5.03")
