"""Whatever the schedule and the night, a timetable runs forward and keeps its hours."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from inventory.core.clock import find_moment
from inventory.core.day_plan import DayPlan, Kiln, MomentKind, StudioPractice, Wish, WishKind
from inventory.core.investing import WorkingSplit, compute_phases
from inventory.core.schedule import (
    ScheduleStep,
    compute_curve,
    compute_set_points,
    compute_total_minutes,
    lay_out,
    split_climb,
)
from inventory.core.timetable import compute_timetable

ZONES = st.sampled_from(["Europe/London", "America/New_York", "Australia/Lord_Howe"]).map(ZoneInfo)
ANY_TIME = st.datetimes(datetime(2005, 1, 1), datetime(2037, 12, 31)).map(
    lambda when: when.replace(microsecond=0)
)
# Around the nights in which one of the three zones changes its clocks, where an hour may be missing or double.
CHANGES = [
    datetime(2026, 3, 29), datetime(2026, 10, 25), datetime(2026, 3, 8), datetime(2026, 11, 1),
    datetime(2026, 4, 5), datetime(2026, 10, 4),
]  # fmt: skip
NEAR_CHANGE = st.builds(
    lambda day, minutes: day + timedelta(minutes=minutes),
    st.sampled_from(CHANGES),
    st.integers(-12 * 60, 36 * 60),
)
WALL_TIMES = st.one_of(ANY_TIME, NEAR_CHANGE)

DEGREES = st.integers(0, 1_300)
BY_MINUTES = st.builds(
    ScheduleStep, DEGREES, climb_minutes=st.integers(0, 600), hold_minutes=st.integers(0, 600)
)
BY_RATE = st.builds(
    ScheduleStep, DEGREES, climb_c_per_hour=st.integers(1, 1_500), hold_minutes=st.integers(0, 600)
)
SCHEDULES = st.lists(st.one_of(BY_MINUTES, BY_RATE), min_size=1, max_size=8).map(tuple)
KILNS = st.builds(Kiln, st.booleans(), st.integers(5, 300), st.integers(-10, 40))
PRACTICES = st.builds(
    StudioPractice, st.integers(0, 300), st.integers(0, 1_000), st.integers(0, 180), st.integers(0, 120)
)
SPLITS = st.builds(WorkingSplit, *[st.integers(0, 600)] * 4)
PLANS = st.builds(DayPlan, SCHEDULES, KILNS, PRACTICES, SPLITS.map(compute_phases))
MINUTE = timedelta(minutes=1)


def pour_at(wall, plan, zone):
    """None where the clock never shows that time."""
    at = find_moment(wall, zone).at
    return at and compute_timetable(Wish(WishKind.POUR, at), plan, zone)


@given(WALL_TIMES, PLANS, ZONES)
def test_no_moment_comes_before_the_one_above_it(wall, plan, zone):
    if table := pour_at(wall, plan, zone):
        moments = [one.at for one in table.moments]
        assert moments == sorted(moments)
        assert all(one.at.tzinfo is UTC for one in table.moments)


@given(WALL_TIMES, PLANS, ZONES)
def test_the_kiln_is_on_for_the_hours_of_the_schedule(wall, plan, zone):
    if table := pour_at(wall, plan, zone):
        total, _ = compute_total_minutes(plan.steps, plan.kiln.room_c)
        kiln_on, pour = table.find(MomentKind.KILN_ON).at, table.find(MomentKind.POUR).at
        assert pour - kiln_on == total * MINUTE
        assert table.moments[0].at == kiln_on - timedelta(seconds=plan.investing_s + plan.standing_s)
        assert table.find(MomentKind.QUENCH).at - pour == plan.practice.quench_minutes * MINUTE


@given(WALL_TIMES, PLANS, ZONES)
def test_the_pour_is_when_it_was_wished_on_the_studios_clock(wall, plan, zone):
    if table := pour_at(wall, plan, zone):
        assert table.find(MomentKind.POUR).clock.replace(tzinfo=None) == wall


@given(WALL_TIMES, PLANS, ZONES)
def test_both_wishes_agree(wall, plan, zone):
    if table := pour_at(wall, plan, zone):
        kiln_on = table.find(MomentKind.KILN_ON)
        for at in (kiln_on.at, kiln_on.clock):
            again = compute_timetable(Wish(WishKind.KILN_ON, at), plan, zone)
            assert again.moments == table.moments


@given(WALL_TIMES, PLANS, ZONES)
def test_nobody_sets_the_kiln_twice_at_one_moment(wall, plan, zone):
    if table := pour_at(wall, plan, zone):
        turns = [one.at for one in table.moments if one.set_point_c is not None]
        assert len(set(turns)) == len(turns)


@given(WALL_TIMES, ZONES)
def test_a_time_on_the_clock_is_one_moment_or_a_sentence(wall, zone):
    found = find_moment(wall, zone)
    if found.at is None:
        assert "does not exist" in found.sentence
    else:
        assert found.at.astimezone(zone).replace(tzinfo=None) == wall
        assert found.at == min(wall.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1))


@given(SCHEDULES, st.integers(-10, 40))
def test_climbs_and_holds_stand_end_to_end(steps, start_c):
    laid = lay_out(steps, start_c)
    ends = [0, *(stretch.end_minute for stretch in laid)]
    assert [stretch.start_minute for stretch in laid] == ends[:-1]
    assert ends[-1] == compute_total_minutes(steps, start_c)[0] == compute_curve(steps, start_c)[-1][0]
    assert compute_curve(steps, start_c)[-1][1] == steps[-1].target_c


@given(SCHEDULES, st.integers(-10, 40), st.integers(5, 300))
def test_a_kiln_turned_by_hand_ends_at_the_last_temperature(steps, start_c, largest_step_c):
    points = compute_set_points(steps, start_c, largest_step_c)
    if points:
        assert points[-1].set_c == steps[-1].target_c


FAST = st.builds(ScheduleStep, DEGREES, hold_minutes=st.integers(0, 600))


@given(st.lists(FAST, min_size=1, max_size=8), st.integers(-10, 40), st.integers(5, 300))
def test_as_fast_as_the_kiln_can_takes_time_and_keeps_the_largest_step(steps, start_c, largest_step_c):
    assert all(stretch.minutes > 0 for stretch in lay_out(steps, start_c))
    points = compute_set_points(steps, start_c, largest_step_c)
    assert all(abs(point.set_c - point.from_c) <= largest_step_c for point in points)


@given(st.integers(-10, 1_300), st.integers(0, 1_300), st.integers(1, 300))
def test_no_step_of_a_climb_is_larger_than_the_studios_largest(from_c, to_c, largest_step_c):
    targets = split_climb(from_c, to_c, largest_step_c, most_parts=10_000)
    way = 1 if to_c > from_c else -1
    apart = [way * (to - since) for since, to in zip([from_c, *targets], targets, strict=False)]
    assert targets[-1] == to_c
    if from_c != to_c:
        assert all(0 < degrees <= largest_step_c for degrees in apart)
