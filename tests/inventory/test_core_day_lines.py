"""The lines of a casting day: how its clock and what is left are said."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from inventory.core.day_plan import DayPlan, MomentKind, Wish, WishKind
from inventory.core.schedule import ScheduleStep
from inventory.core.timetable import (
    compute_timetable,
    find_next,
    list_lines,
    print_clock,
    print_left,
    print_stopwatch,
)

LONDON = ZoneInfo("Europe/London")
POUR = datetime(2026, 11, 14, 18, 30, tzinfo=UTC)


def lines(pour=POUR):
    steps = (ScheduleStep(150, 60, hold_minutes=120), ScheduleStep(730, 300, hold_minutes=120))
    return list_lines(compute_timetable(Wish(WishKind.POUR, pour), DayPlan(steps), LONDON))


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (-5, "0 min"),
        (0, "0 min"),
        (9, "9 s"),
        (750, "12 min 30 s"),
        (3_600, "1 h"),
        (12_059, "3 h 20 min"),
        (47 * 3_600, "47 h"),
        (48 * 3_600, "2 days"),
        (52 * 3_600 + 100, "2 days 4 h"),
    ],
)
def test_what_is_left_is_said_as_finely_as_it_matters(seconds, said):
    assert print_left(seconds).replace("\u00a0", " ") == said


def test_the_stopwatch_shows_minutes_and_seconds():
    assert [print_stopwatch(seconds) for seconds in (-1, 7, 187, 3_725)] == ["0:00", "0:07", "3:07", "62:05"]


@pytest.mark.parametrize(
    ("utc", "shown"),
    [
        (datetime(2026, 10, 25, 0, 59, tzinfo=UTC), "01:59 BST"),
        (datetime(2026, 10, 25, 1, 0, tzinfo=UTC), "01:00 GMT"),
        (datetime(2026, 10, 25, 2, 0, tzinfo=UTC), "02:00"),
        (datetime(2026, 3, 29, 1, 0, tzinfo=UTC), "02:00"),
        (datetime(2026, 11, 14, 1, 30, tzinfo=UTC), "01:30"),
    ],
)
def test_a_time_that_the_wall_shows_twice_says_which_it_is(utc, shown):
    assert print_clock(utc.astimezone(LONDON)).replace("\u00a0", " ") == shown


def test_a_new_day_is_marked_once():
    days = [line.day for line in lines(POUR - timedelta(hours=9)) if line.is_new_day]
    assert [day.replace("\u00a0", " ") for day in days] == ["Fri 13 Nov", "Sat 14 Nov"]


def test_who_does_it():
    who = {line.kind: line.by_whom for line in lines()}
    assert who[MomentKind.POUR] == "by hand"
    assert who[MomentKind.FLASK_READY] == "by the kiln"
    assert who[MomentKind.STAND] == ""


def test_only_what_is_done_by_hand_is_pointed_out_at_night():
    early = lines(POUR - timedelta(hours=6))
    assert any(line.at_night for line in early)
    assert all(line.by_whom == "by hand" for line in early if line.at_night)


def test_a_moment_is_next_until_it_has_come():
    all_lines = lines()
    first, last = all_lines[0], all_lines[-1]
    assert find_next(all_lines, first.at - timedelta(seconds=1)) == (None, first)
    assert find_next(all_lines, first.at) == (first, all_lines[1])
    assert find_next(all_lines, last.at) == (last, None)
    assert find_next((), last.at) == (None, None)
