"""Burnout schedules, and when the metal goes in, against published schedules and the practice of the trade."""

from datetime import UTC, datetime, timedelta

import pytest

from inventory.core.day_moments import MomentKind
from inventory.core.day_plan import DayPlan, StudioPractice, Wish, WishKind
from inventory.core.schedule import ScheduleStep, compute_set_points, count_minutes
from inventory.core.schedule_check import GYPSUM_MOST_C, check_schedule
from inventory.core.timetable import compute_timetable
from studio.kit.reading import read_celsius

# First hour up to 150 C, top hold at 750 C, down to 600 C before the pour: about 13 h; common practice. The holds
# between are our own, chosen to fill the hours.
SMALL_FLASK = (
    ScheduleStep(150, climb_minutes=60, hold_minutes=120),
    ScheduleStep(750, climb_minutes=240, hold_minutes=240),
    ScheduleStep(600, climb_minutes=60, hold_minutes=60),
)


@pytest.mark.parametrize(
    ("typed", "celsius"), [("300 F", 149), ("700 F", 371), ("1350 F", 732), ("1150 F", 621)]
)
def test_the_temperatures_of_a_printed_schedule(typed, celsius):
    """300, 700, 1350 and 1150 F are 149, 371, 732 and 621 C; read in a maker's printed table, its name not kept."""
    assert read_celsius(typed) == celsius


def test_the_hours_of_a_printed_schedule():
    """2 h at 300 F, 2 h at 700 F, 3 h at 1350 F, 2 h at 1150 F: 9 h; read in the same table."""
    hours = [("300 F", 2), ("700 F", 2), ("1350 F", 3), ("1150 F", 2)]
    steps = [ScheduleStep(read_celsius(typed), hold_minutes=60 * held) for typed, held in hours]
    assert count_minutes(steps) == 9 * 60
    assert check_schedule(steps, most_c=GYPSUM_MOST_C) == ()
    turns = [(point.minute, point.set_c) for point in compute_set_points(steps)]
    assert turns == [(0, 149), (120, 371), (240, 732), (420, 621)]


def test_a_full_schedule_for_a_small_flask():
    """About 13 h, its top at 750 C and its pour at 600 C; common practice."""
    assert count_minutes(SMALL_FLASK) == 13 * 60
    assert check_schedule(SMALL_FLASK, most_c=750) == ()


@pytest.mark.parametrize("room_c", [0, 20])
def test_a_controller_without_a_program_is_set_to_75_and_then_to_150(room_c):
    """A 0 to 150 C climb in an hour is made as a step to 75 C, then to 150 C; common practice."""
    points = compute_set_points([ScheduleStep(150, climb_minutes=60)], room_c, largest_step_c=75)
    assert [(point.minute, point.set_c) for point in points] == [(0, 75), (30, 150)]


def test_metal_goes_in_when_the_cooling_kiln_passes_650():
    """The kiln passes 650 C on its way from 750 to 600 C; common practice. Two thirds of the way of an hour."""
    wish = Wish(WishKind.POUR, datetime(2026, 6, 10, 16, 0, tzinfo=UTC))
    table = compute_timetable(wish, DayPlan(SMALL_FLASK), UTC)
    assert StudioPractice().crucible_c == 650
    down = wish.at - timedelta(minutes=120)
    assert table.find(MomentKind.CRUCIBLE).at == down + timedelta(minutes=40)


@pytest.mark.parametrize(("top_c", "is_warned"), [(750, False), (751, True)])
def test_a_gypsum_bonded_mould_is_warned_above_750(top_c, is_warned):
    """Calcium sulfate breaks down above 750 C: Phillips' Science of Dental Materials, from memory; common practice."""
    remarks = check_schedule([ScheduleStep(top_c, climb_minutes=300, hold_minutes=60)])
    assert [remark.is_caution for remark in remarks] == [True] * is_warned
