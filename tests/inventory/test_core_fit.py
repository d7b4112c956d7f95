"""Whether a tree fits its flask and its crucible: a limit that is met exactly is kept, a unit beyond is said."""

from dataclasses import replace

import pytest

from inventory.core.tree import Fit, check_fit

# 100 g in a crucible of 100 g; 50 mm wide in a flask of 70 mm with walls of 10 mm; 90 mm high in one of 110 mm.
EXACT = Fit(
    metal_mg=100_000,
    button_mg=10_000,
    least_button_mg=10_000,
    capacity_mg=100_000,
    flask_diameter_um=70_000,
    flask_height_um=110_000,
    tree_height_um=90_000,
    tree_width_um=50_000,
    wall_um=10_000,
    top_um=20_000,
)


def told(fit):
    return [sentence.replace("\u00a0", " ") for sentence in check_fit(fit)]


def test_what_fits_exactly_fits():
    assert check_fit(EXACT) == ()


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        (
            {"metal_mg": 100_001},
            "The crucible takes 100.00 g and this charge is 100.001 g: 0.001 g too much. "
            "Take a larger crucible or a smaller tree.",
        ),
        (
            {"tree_width_um": 50_002},
            "The tree leaves 9.999 mm to the wall of the flask and your least is 10 mm: "
            "a thin wall cracks and lets the metal out. Take a wider flask.",
        ),
        (
            {"tree_width_um": 70_002},
            "The tree leaves 0 mm to the wall of the flask and your least is 10 mm: "
            "a thin wall cracks and lets the metal out. Take a wider flask.",
        ),
        (
            {"tree_height_um": 90_001},
            "The tree leaves 19.999 mm to the top of the flask and your least is 20 mm. "
            "Take a taller flask or a shorter tree.",
        ),
        (
            {"tree_height_um": 110_001},
            "The tree leaves 0 mm to the top of the flask and your least is 20 mm. "
            "Take a taller flask or a shorter tree.",
        ),
        (
            {"button_mg": 9_999},
            "The button would be 9.999 g and your least is 10.00 g: a small button cannot feed the tree while "
            "it cools. Allow more for the button.",
        ),
    ],
)
def test_a_unit_beyond_is_said(changes, sentence):
    assert told(replace(EXACT, **changes)) == [sentence]


def test_everything_that_does_not_fit_is_said_in_turn():
    wrong = replace(EXACT, metal_mg=200_000, tree_width_um=60_000, tree_height_um=100_000, button_mg=1)
    assert [sentence.split()[1] for sentence in told(wrong)] == ["crucible", "tree", "tree", "button"]


@pytest.mark.parametrize(
    "unknown", ["capacity_mg", "flask_diameter_um", "flask_height_um", "tree_height_um", "tree_width_um"]
)
def test_what_is_not_known_is_not_judged(unknown):
    wrong = replace(EXACT, metal_mg=200_000, tree_width_um=60_000, tree_height_um=100_000)
    assert len(told(wrong)) == 3
    assert len(told(replace(wrong, **{unknown: None}))) == 2


def test_a_studio_that_keeps_no_clearance_lets_a_tree_fill_its_flask():
    tree = {"tree_width_um": 10, "tree_height_um": 10, "flask_diameter_um": 10, "flask_height_um": 10}
    assert check_fit(Fit(1, 1, 1, **tree)) == ()
