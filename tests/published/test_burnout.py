"""Burnout schedules against a printed one, and the heat of alloys and of their flasks against published figures."""

import pytest

from inventory.core.schedule import ScheduleStep, compute_set_points, count_minutes, lay_out
from inventory.core.schedule_check import GYPSUM_MOST_C, check_schedule
from inventory.core.starters import STARTER_ALLOYS, STARTER_SCHEDULES
from studio.kit.measures import CELSIUS

# 2 h at 300 F, 2 h at 700 F, 3 h at 1350 F, 2 h at 1150 F; read.
PRINTED = [("300 F", 2), ("700 F", 2), ("1350 F", 3), ("1150 F", 2)]


@pytest.mark.parametrize(
    ("typed", "celsius"), [("300 F", 149), ("700 F", 371), ("1350 F", 732), ("1150 F", 621)]
)
def test_the_temperatures_of_a_printed_schedule(typed, celsius):
    """300, 700, 1350 and 1150 F are 149, 371, 732 and 621 C; read in a maker's printed table, its name not kept."""
    assert CELSIUS.read(typed) == celsius


def test_each_hold_of_a_printed_schedule_is_held_whole():
    """Its holds are 9 h (read); the climbs between them come on top, at a pace that is a guess of ours."""
    steps = [ScheduleStep(CELSIUS.read(typed), hold_minutes=60 * held) for typed, held in PRINTED]
    holds = [stretch.minutes for stretch in lay_out(steps) if stretch.is_hold]
    assert sum(holds) == 9 * 60
    assert count_minutes(steps) > 9 * 60
    assert check_schedule(steps, most_c=GYPSUM_MOST_C) == ()


def test_the_starting_schedule_for_wax_is_the_printed_one():
    """The same four temperatures and holds; read."""
    starter = next(one for one in STARTER_SCHEDULES if one.name == "Wax, flasks to 89 mm")
    assert [(step.target_c, step.hold_minutes) for step in starter.steps] == [
        (CELSIUS.read(typed), 60 * held) for typed, held in PRINTED
    ]


def test_every_starting_schedule_holds_in_the_middle_and_keeps_below_what_gypsum_stands():
    """Between the wax out and the top: two holds at 300 and 700 F in the printed schedule (read)."""
    for starter in STARTER_SCHEDULES:
        assert check_schedule(starter.steps, most_c=GYPSUM_MOST_C) == ()
        top = max(step.target_c for step in starter.steps)
        before = [step.target_c for step in starter.steps if step.target_c < top and step.hold_minutes >= 60]
        assert any(300 <= target <= 500 for target in before), starter.name
        assert starter.largest_diameter_um > 0


@pytest.mark.parametrize("room_c", [0, 20])
def test_a_controller_without_a_program_goes_to_150_in_two_steps_of_75(room_c):
    """An hour from 0 to 150 C, by a studio whose largest step is 75 C: set to 75, then to 150 (one practice's own)."""
    points = compute_set_points([ScheduleStep(150, climb_minutes=60)], room_c, largest_step_c=75)
    assert [(point.minute, point.set_c) for point in points] == [(0, 75), (30, 150)]


@pytest.mark.parametrize(("top_c", "is_warned"), [(750, False), (751, True)])
def test_a_gypsum_bonded_mould_is_warned_above_750(top_c, is_warned):
    """Calcium sulfate breaks down above 750 C: Phillips' Science of Dental Materials, from memory; common practice."""
    dry = ScheduleStep(150, climb_minutes=60, hold_minutes=120)
    remarks = check_schedule([dry, ScheduleStep(top_c, climb_minutes=300, hold_minutes=60)])
    assert [remark.is_caution for remark in remarks] == [True] * is_warned


ALLOYS = {alloy.name: alloy.heats for alloy in STARTER_ALLOYS}


@pytest.mark.parametrize(
    ("name", "solidus_c", "liquidus_c"),
    [
        pytest.param("Sterling 925", 802, 893, id="sterling: ASM, from memory"),
        pytest.param(
            "Silicon bronze", 821, 971, id="C87300: data sheet of copper alloys, 1510 and 1780 F, read"
        ),
        pytest.param("Bronze", 831, 999, id="tin bronze C90700: from memory"),
        pytest.param("Brass", 916, 954, id="brass C26000: from memory"),
        pytest.param("Fine silver", 962, 962, id="silver 961.78: ITS-90, from memory"),
        pytest.param("Copper", 1_085, 1_085, id="copper 1084.62: ITS-90, from memory"),
    ],
)
def test_melting_ranges(name, solidus_c, liquidus_c):
    assert (ALLOYS[name].solidus_c, ALLOYS[name].liquidus_c) == (solidus_c, liquidus_c)


@pytest.mark.parametrize("name", ["Silver 958", "Silver 835"])
def test_the_other_silvers_melt_between_their_neighbours(name):
    """Fine silver 961.78 C (ITS-90, from memory), the eutectic 779.1 C at 28.41 % copper (NIST, read)."""
    heats = ALLOYS[name]
    assert 779 <= heats.solidus_c < heats.liquidus_c < 962
    is_richer = name == "Silver 958"
    assert (heats.liquidus_c > ALLOYS["Sterling 925"].liquidus_c) == is_richer


def test_sterling_is_poured_and_its_flask_is_kept_within_what_is_printed():
    """Cast at about 970 C (a supplier's chart, read); flask 400 C for heavy to 675 C for very thin work (practitioners'
    exchange, read).
    """
    sterling = ALLOYS["Sterling 925"]
    assert sterling.pour_least_c <= 970 <= sterling.pour_most_c
    assert (sterling.flask_least_c, sterling.flask_most_c) == (400, 675)


def test_every_alloy_is_poured_50_to_100_degrees_above_its_liquidus():
    """Common practice; brass is poured above 907 C, where zinc boils (from memory): hence its fume."""
    for name, heats in ALLOYS.items():
        if heats.pour_least_c is not None:
            above = (heats.pour_least_c - heats.liquidus_c, heats.pour_most_c - heats.liquidus_c)
            assert above == (50, 100), name
    assert ALLOYS["Brass"].pour_least_c > 907
