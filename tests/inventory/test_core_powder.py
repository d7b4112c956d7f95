"""Powder and water for a flask."""

from inventory.core.powder import (
    compute_expected_water,
    compute_flask_volume,
    compute_powder_needed,
)


def test_a_flask_of_75_by_100_millimetres():
    assert compute_flask_volume(75_000, 100_000) == 441_786


def test_the_tree_takes_its_room_from_the_powder():
    powder_mg, water_mg, _ = compute_powder_needed(441_786, 41_786, 1_250, 4_000)
    assert powder_mg == 500_000
    assert water_mg == 200_000


def test_over_mix_adds_to_powder_and_water_alike():
    powder_mg, water_mg, _ = compute_powder_needed(400_000, 0, 1_250, 4_000, 1_000)
    assert (powder_mg, water_mg) == (550_000, 220_000)


def test_a_tree_larger_than_its_flask_leaves_no_room():
    assert compute_powder_needed(100_000, 200_000, 1_250, 4_000)[:2] == (0, 0)


def test_water_for_weighed_powder_shows_its_sum():
    water_mg, working = compute_expected_water(455_000, 4_000)
    assert water_mg == 182_000
    assert working.result == "182.00\u00a0g"
