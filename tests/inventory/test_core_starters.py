"""What a new studio may begin with: each figure held a second time, and against the others beside it."""

import pytest

from inventory.core.starters import (
    STARTER_ALLOYS,
    STARTER_CHECKLIST,
    STARTER_MATERIALS,
    STARTER_SCHEDULES,
    STARTER_SETS,
)

SYMBOLS = {"silver": "Ag", "gold": "Au"}
# Density in mg/cm3, melting range and flask in C; each source stands beside the alloy: read or from memory.
FIGURES = {
    "Sterling 925": (925, 10_360, 802, 893, 400, 675),
    "Silver 958": (958, 10_425, 870, 920, 400, 675),
    "Silver 835": (835, 10_200, 779, 830, 400, 675),
    "Fine silver": (999, 10_500, 962, 962, None, None),
    "9 ct yellow gold": (375, 11_149, 860, 895, 450, 620),
    "14 ct yellow gold": (585, 13_070, None, None, None, None),
    "18 ct yellow gold": (750, 15_580, 895, 920, 450, 620),
    "Bronze": (0, 8_770, 831, 999, 430, 590),
    "Silicon bronze": (0, 8_360, 821, 971, 430, 590),
    "Brass": (0, 8_530, 916, 954, 430, 540),
    "Copper": (0, 8_960, 1_085, 1_085, None, None),
}


def test_each_alloy_has_its_figures():
    told = {
        alloy.name: (
            alloy.fineness,
            alloy.density_mg_cm3,
            alloy.heats.solidus_c,
            alloy.heats.liquidus_c,
            alloy.heats.flask_least_c,
            alloy.heats.flask_most_c,
        )
        for alloy in STARTER_ALLOYS
    }
    assert told == FIGURES


@pytest.mark.parametrize("alloy", STARTER_ALLOYS, ids=lambda alloy: alloy.name)
def test_the_parts_make_the_whole_and_the_fineness(alloy):
    assert sum(alloy.parts.values()) == 10_000
    if alloy.metal in SYMBOLS and alloy.name != "Fine silver":
        assert alloy.parts[SYMBOLS[alloy.metal]] == alloy.fineness * 10
    assert set(alloy.parts) <= {"Ag", "Au", "Cu", "Zn", "Sn", "Si", "Mn"}


@pytest.mark.parametrize("alloy", STARTER_ALLOYS, ids=lambda alloy: alloy.name)
def test_metal_is_poured_above_the_end_of_its_melting(alloy):
    """Common practice: 50 to 100 C above the liquidus. Where no flask is known, no pour is told."""
    heats = alloy.heats
    if heats.flask_least_c is None:
        assert heats.pour_least_c is None and "poured" not in alloy.heat_note
    else:
        assert (heats.pour_least_c, heats.pour_most_c) == (heats.liquidus_c + 50, heats.liquidus_c + 100)
        assert "poured 50 to 100" in alloy.heat_note
    assert bool(alloy.heat_note) is (heats.liquidus_c is not None)


def test_each_material_has_its_figures():
    told = {one.name: (one.kind, one.density_mg_cm3) for one in STARTER_MATERIALS}
    assert told == {
        "Casting wax": ("pattern", 960),
        "PLA filament": ("pattern", 1_240),
        "Castable resin": ("pattern", 1_120),
        "Investment powder": ("powder", None),
    }
    powder = STARTER_MATERIALS[-1]
    assert (powder.water_per_100_tenths, powder.shelf_life_days, powder.opened_life_days) == (400, 365, 180)
    assert (powder.slurry_mg_cm3, powder.working_minutes, powder.most_c) == (1_767, 8, 750)


def test_each_schedule_has_its_steps():
    told = {
        one.name: [(step.target_c, step.climb_c_per_hour, step.hold_minutes) for step in one.steps]
        for one in STARTER_SCHEDULES
    }
    assert told == {
        "Wax, flasks to 89 mm": [(149, None, 120), (371, None, 120), (732, None, 180), (621, None, 120)],
        "Wax, flasks to 102 mm": [
            *((149, None, 120), (316, None, 120), (482, None, 120)),
            *((732, None, 240), (621, None, 120)),
        ],
        "Resin, flasks to 89 mm": [(149, 60, 180), (371, 60, 180), (732, 120, 300), (593, None, 120)],
    }
    assert [one.largest_diameter_um for one in STARTER_SCHEDULES] == [89_000, 102_000, 89_000]
    assert {one.powder for one in STARTER_SCHEDULES} == {"Investment powder"}
    assert [one.pattern for one in STARTER_SCHEDULES] == ["", "", "Castable resin"]


def test_the_checklist_asks_what_the_equipment_calls_for():
    assert [line.when for line in STARTER_CHECKLIST][:2] == ["pump", "graphite"]
    assert {line.when for line in STARTER_CHECKLIST[2:]} == {"always"}


@pytest.mark.parametrize("one", STARTER_SETS, ids=lambda one: one.metal)
def test_what_belongs_to_a_metal_is_among_the_starters(one):
    assert set(one.alloys) <= {alloy.name for alloy in STARTER_ALLOYS}
    assert set(one.materials) <= {material.name for material in STARTER_MATERIALS}
    assert one.schedules and set(one.schedules) <= {schedule.name for schedule in STARTER_SCHEDULES}
    kinds = {material.kind for material in STARTER_MATERIALS if material.name in one.materials}
    assert kinds == {"pattern", "powder"}
