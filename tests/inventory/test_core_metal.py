"""Metal for a tree, and densities of mixtures."""

import pytest

from inventory.core.metal import (
    PatternPart,
    check_composition,
    compute_metal_needed,
    compute_mixture_density,
)


def test_a_tree_of_wax_and_printed_patterns_takes_each_at_its_own_density():
    parts = [
        PatternPart("wax", mass_mg=4_000, density_mg_cm3=1_000),
        PatternPart("printed", mass_mg=2_480, density_mg_cm3=1_240),
    ]
    assert compute_metal_needed(parts, 10_000)[0] == 60_000


def test_a_pattern_of_known_volume_needs_no_weighing():
    assert compute_metal_needed([PatternPart("model", volume_ul=1_500)], 10_360)[0] == 15_540


def test_a_fixed_button_is_added_to_the_tree():
    wax = PatternPart("wax", mass_mg=5_000, density_mg_cm3=1_000)
    assert compute_metal_needed([wax], 10_360, button_mg=20_000)[0] == 71_800


def test_a_tree_of_nothing_needs_the_button_alone():
    assert compute_metal_needed([], 10_360, button_pct100=1_000)[0] == 0


def test_the_working_names_every_part_and_where_it_came_from():
    wax = PatternPart("wax tree", mass_mg=5_000, density_mg_cm3=1_000, origin="weighed")
    _, working = compute_metal_needed([wax], 10_360, button_pct100=1_000)
    assert [given.label for given in working.givens] == [
        "wax tree",
        "density of the metal",
        "more for the button",
    ]
    assert working.givens[0].origin == "weighed"
    assert working.result == working.steps[-1].result == "56.98\u00a0g"


def test_a_weighed_part_without_a_density_is_a_mistake_in_the_program():
    with pytest.raises(ValueError, match="no density"):
        compute_metal_needed([PatternPart("wax", mass_mg=5_000)], 10_360)


def test_an_unknown_element_is_told_with_what_can_be_used():
    (problem,) = check_composition({"Ag": 925, "Xx": 75})
    assert "'Xx'" in problem
    assert "Cu" in problem
    with pytest.raises(ValueError, match="no density"):
        compute_mixture_density({"Xx": 1})


@pytest.mark.parametrize("parts", [{}, {"Ag": 0}, {"Ag": 10, "Cu": -20}])
def test_a_composition_of_nothing_or_less_is_told(parts):
    assert check_composition(parts)


def test_a_pure_metal_keeps_its_own_density():
    assert compute_mixture_density({"Ag": 1})[0] == 10_500


def test_parts_of_any_total_make_the_same_metal():
    assert (
        compute_mixture_density({"Ag": 925, "Cu": 75})[0] == compute_mixture_density({"Ag": 37, "Cu": 3})[0]
    )


def test_the_working_of_a_density_ends_in_its_result():
    _, working = compute_mixture_density({"Ag": 925, "Cu": 75})
    assert working.steps[-1].result == working.result
    assert working.source.startswith("CRC Handbook")
