"""Powder and water against computed and published mixes."""

from fractions import Fraction

import pytest

from inventory.core.day_plan import StudioPractice
from inventory.core.investing import compute_phases
from inventory.core.powder import (
    FlaskToFill,
    compute_flask_volume,
    compute_mix,
    compute_powder_needed,
    compute_slurry,
    compute_slurry_by_parts,
    compute_water_mg,
)
from inventory.models import DayPractice
from inventory.queries.plan_figures import USUAL_WATER_TENTHS

# Hemihydrate 2.75, quartz 2.65, cristobalite 2.33 in 30/35/35 (handbook densities, from memory), and water of 0.9982:
# what 100 g of powder come to with 38, 40 and 42 g of water was worked out by hand, apart from the code.
BY_PARTS = compute_slurry_by_parts(4_000)


@pytest.mark.parametrize(("water_pct100", "grams"), [(3_800, "1.295"), (4_000, "1.2625"), (4_200, "1.231")])
def test_powder_in_each_cubic_centimetre_of_slurry(water_pct100, grams):
    """Computed from handbook densities (memory)."""
    assert abs(compute_slurry_by_parts(water_pct100).per_cm3_mg - Fraction(grams) * 1000) < 1


def test_slurry_and_powder_per_cubic_inch_at_forty():
    """Slurry 1.767 g/cm3 and 20.69 g/in3; computed from handbook densities (memory)."""
    assert abs(BY_PARTS.per_cm3_mg * Fraction("1.4") - 1_767) <= 1
    assert abs(BY_PARTS.per_cm3_mg * Fraction("16.387064") - 20_690) < 10


def test_a_sheet_that_prints_the_same_density_gives_the_same_powder():
    """1.767 g/cm3 at 40 of water to 100 is what the parts come to; computed."""
    assert abs(compute_slurry(1_767, 4_000).per_cm3_mg - BY_PARTS.per_cm3_mg) <= 1


@pytest.mark.parametrize(
    ("diameter_um", "height_um", "powder_g", "water_g"),
    [
        pytest.param(63_500, 76_200, "304.6", "121.8", id="2.5 x 3 in"),
        pytest.param(76_200, 76_200, "438.7", "175.5", id="3 x 3 in"),
        pytest.param(75_000, 100_000, "557.7", "223.1", id="75 x 100 mm"),
    ],
)
def test_powder_and_water_for_a_cylinder(diameter_um, height_um, powder_g, water_g):
    """At 40/100, no pattern deducted; computed. Within 0.2 g: the setting is held to the milligram per cm3."""
    flask_ul = compute_flask_volume(diameter_um, height_um)
    powder_mg, water_mg, _ = compute_powder_needed(flask_ul, 0, BY_PARTS)
    assert abs(powder_mg - Fraction(powder_g) * 1000) <= 250
    assert abs(water_mg - Fraction(water_g) * 1000) <= 150


def test_water_for_four_pounds_of_powder():
    """454 g to the pound, 40/100: 1816 g takes 726.4 g; read in a supplier's mixing chart, its name not kept."""
    assert compute_water_mg(4 * 454_000, 4_000) == 726_400


def test_a_powder_without_a_sheet_takes_water_that_makers_allow():
    """38 heavy work, 39 medium, 40 fine detail; makers allow 38 to 42; read on makers' sheets, their names not kept."""
    assert 38 <= USUAL_WATER_TENTHS / 10 <= 42


@pytest.mark.parametrize("over_mix_pct100", [0, DayPractice().over_mix_pct100])
def test_the_mix_is_that_of_shop_charts_bare_and_with_the_over_mix_a_studio_begins_with(over_mix_pct100):
    """18.9 to 24.1 g/in3 of the cylinder, spill and over-fill included; read in shop charts, their names not kept."""
    thousand_cubic_inches_ul = 16_387_064
    mix = compute_mix([FlaskToFill("flask", thousand_cubic_inches_ul)], BY_PARTS, over_mix_pct100)
    assert 18_900_000 <= mix.powder_mg <= 24_100_000


def test_two_cylinders_from_one_bowl():
    """2.5 x 3 in and 3 x 3 in at 40/100: 304.6 and 438.7 g of powder; computed. Within 0.5 g for the two."""
    sizes = [(63_500, 76_200), (76_200, 76_200)]
    flasks = [FlaskToFill(str(size), compute_flask_volume(*size)) for size in sizes]
    mix = compute_mix(flasks, BY_PARTS)
    assert abs(mix.powder_mg - (304_600 + 438_700)) <= 500


def test_the_working_time_from_powder_to_the_last_vacuum():
    """Mix 4, vacuum the bowl 1, pour 1, vacuum the flask 2 come to about 8 min; common practice, with no source.

    The first four figures are the studio's own starting figures: only that they come to 8 min is held to anything.
    """
    assert compute_phases()[-1].end_s == 8 * 60


def test_the_flasks_stand_before_the_kiln_as_long_as_is_usual():
    """90 to 120 min before the kiln; common practice, with no source."""
    assert 90 <= StudioPractice().standing_minutes <= 120
