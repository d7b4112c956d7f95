"""Which moment a clock time means, and the studio's quiet hours."""

from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import pytest

from inventory.core.clock import QuietHours, find_clock_change, find_moment, round_up_to_minute

LONDON = ZoneInfo("Europe/London")
LORD_HOWE = ZoneInfo("Australia/Lord_Howe")


def plain(text):
    return text.replace("\u00a0", " ")


def test_an_ordinary_time_is_one_moment():
    found = find_moment(datetime(2026, 7, 1, 16, 0), LONDON)
    assert found.at == datetime(2026, 7, 1, 15, 0, tzinfo=UTC)
    assert found.sentence == ""


def test_a_time_the_clocks_skip_does_not_exist_and_another_is_offered():
    found = find_moment(datetime(2026, 3, 29, 1, 30), LONDON)
    assert found.at is None
    assert "Sun 29 Mar, 01:30 does not exist" in plain(found.sentence)
    assert "such as Sun 29 Mar, 02:30" in plain(found.sentence)


def test_half_an_hour_is_skipped_on_lord_howe_island():
    assert find_moment(datetime(2026, 10, 4, 2, 15), LORD_HOWE).at is None
    assert find_moment(datetime(2026, 10, 4, 2, 30), LORD_HOWE).at == datetime(
        2026, 10, 3, 15, 30, tzinfo=UTC
    )


def test_of_a_time_that_comes_twice_the_first_is_meant_with_a_note():
    found = find_moment(datetime(2026, 10, 25, 1, 30), LONDON)
    assert found.at == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert "comes twice" in found.sentence


@pytest.mark.parametrize("year", [1, 1999, 2101, 9999])
def test_a_year_far_away_is_refused_with_a_sentence(year):
    found = find_moment(datetime(year, 1, 1), LONDON)
    assert found.at is None
    assert "between 2000 and 2100" in found.sentence


def test_a_time_that_has_a_zone_already_is_the_programs_mistake():
    with pytest.raises(ValueError, match="no zone"):
        find_moment(datetime(2026, 1, 1, tzinfo=UTC), LONDON)


@pytest.mark.parametrize(
    ("clock", "is_night"),
    [
        (time(21, 59), False),
        (time(22, 0), True),
        (time(0, 0), True),
        (time(6, 59), True),
        (time(7, 0), False),
    ],
)
def test_the_night_crosses_midnight(clock, is_night):
    assert QuietHours().holds(clock) is is_night


def test_a_night_after_midnight_and_no_night_at_all():
    assert QuietHours(time(1), time(5)).holds(time(3))
    assert not QuietHours(time(1), time(5)).holds(time(23))
    assert not QuietHours(time(0), time(0)).holds(time(0))


def test_a_clock_change_is_said_once_with_its_length():
    before, after = datetime(2026, 10, 3, 12, tzinfo=UTC), datetime(2026, 10, 4, tzinfo=UTC)
    assert "go forward by 30 minutes" in find_clock_change(before, after, LORD_HOWE)
    assert find_clock_change(before, after, LONDON) == ""


def test_now_is_taken_to_the_next_full_minute():
    assert round_up_to_minute(datetime(2026, 1, 1, 8, 0, 1, tzinfo=UTC)) == datetime(
        2026, 1, 1, 8, 1, tzinfo=UTC
    )
    assert round_up_to_minute(datetime(2026, 1, 1, 8, 0, tzinfo=UTC)) == datetime(
        2026, 1, 1, 8, 0, tzinfo=UTC
    )
