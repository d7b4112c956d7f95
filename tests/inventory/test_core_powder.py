"""Powder and water for a flask."""

import pytest

from inventory.core.powder import (
    FlaskToFill,
    Slurry,
    check_flasks,
    compute_expected_water,
    compute_flask_volume,
    compute_mix,
    compute_powder_needed,
    compute_slurry,
    compute_slurry_by_parts,
)

# 1.25 g of powder in each cm3, and 40 of water for 100 of it.
EVEN = Slurry(1_250, 4_000)


def test_a_flask_of_75_by_100_millimetres():
    assert compute_flask_volume(75_000, 100_000) == 441_786


def test_the_tree_takes_its_room_from_the_powder():
    powder_mg, water_mg, _ = compute_powder_needed(441_786, 41_786, EVEN)
    assert powder_mg == 500_000
    assert water_mg == 200_000


def test_over_mix_adds_to_powder_and_water_alike():
    powder_mg, water_mg, _ = compute_powder_needed(400_000, 0, EVEN, 1_000)
    assert (powder_mg, water_mg) == (550_000, 220_000)


def test_a_tree_larger_than_its_flask_leaves_no_room():
    assert compute_powder_needed(100_000, 200_000, EVEN)[:2] == (0, 0)


def test_water_for_weighed_powder_shows_its_sum():
    water_mg, working = compute_expected_water(455_000, 4_000)
    assert water_mg == 182_000
    assert working.result == "182.00\u00a0g"


def test_two_flasks_from_one_bowl_take_the_powder_of_both():
    mix = compute_mix([FlaskToFill("A", 441_786, 41_786), FlaskToFill("B", 200_000)], EVEN, 1_000)
    assert (mix.powder_mg, mix.water_mg) == (825_000, 330_000)
    assert mix.shares_mg == (550_000, 275_000)


def test_the_powder_of_each_flask_adds_up_to_the_bowl():
    mix = compute_mix([FlaskToFill(name, 100_001) for name in "ABC"], Slurry(1_263, 4_000), 700)
    assert sum(mix.shares_mg) == mix.powder_mg


def test_one_flask_in_the_bowl_is_the_sum_for_one_flask():
    mix = compute_mix([FlaskToFill("A", 441_786, 41_786)], EVEN, 500)
    assert (mix.powder_mg, mix.water_mg) == compute_powder_needed(441_786, 41_786, EVEN, 500)[:2]


def test_the_mix_shows_each_flask_and_one_over_mix():
    working = compute_mix([FlaskToFill("A", 300_000), FlaskToFill("B", 200_000)], EVEN).working
    assert [given.label for given in working.givens] == [
        "A",
        "B",
        "over-mix",
        "water for the powder",
    ]
    assert working.steps[2].result == "500\u00a0ml"


def test_the_powder_in_each_cubic_centimetre_is_shown_from_the_sheet_or_from_the_parts():
    for slurry, first in (
        (compute_slurry(1_767, 4_000), "powder in each cm³ of slurry: 1.767 g/cm³ × 100 ÷ (100 + 40)"),
        (
            compute_slurry_by_parts(3_800),
            "cm³ that 100 g of powder take up: 30 ÷ 2.75 + 35 ÷ 2.65 + 35 ÷ 2.33",
        ),
    ):
        steps = compute_mix([FlaskToFill("A", 500_000)], slurry).working.steps
        assert steps[1].text.replace("\u00a0", " ") == first


def test_a_flask_with_no_room_for_powder_is_named():
    assert check_flasks([FlaskToFill("A", 300_000, 40_000)]) == ()
    (sentence,) = check_flasks([FlaskToFill("A", 300_000), FlaskToFill("B", 100_000, 200_000)])
    assert sentence.startswith("B: its tree takes")


def test_a_bowl_for_no_flask_asks_for_one():
    assert check_flasks([])[0].startswith("Choose a flask")
    with pytest.raises(ValueError, match="for a flask"):
        compute_mix([], EVEN)


# 30 of hemihydrate 2.75, 35 of quartz 2.65, 35 of cristobalite 2.33 and water of 0.9982; computed.
@pytest.mark.parametrize(("water_pct100", "per_cm3_mg"), [(3_800, 1_295), (4_000, 1_262), (4_200, 1_231)])
def test_a_powder_without_a_sheet_takes_the_space_of_its_parts(water_pct100, per_cm3_mg):
    slurry = compute_slurry_by_parts(water_pct100)
    assert (slurry.per_cm3_mg, slurry.water_pct100) == (per_cm3_mg, water_pct100)


def test_the_space_of_each_part_is_shown():
    steps = [(step.text, step.result) for step in compute_slurry_by_parts(4_000).steps]
    assert steps == [
        ("cm³ that 100 g of powder take up: 30 ÷ 2.75 + 35 ÷ 2.65 + 35 ÷ 2.33", "39.138 cm³"),
        ("cm³ that its water takes up: 40 ÷ 0.9982", "40.072 cm³"),
        ("powder in each cm³ of slurry: 100 ÷ (39.138 + 40.072)", "1.262\u00a0g/cm³"),
    ]
