"""A firing that does not go as it was planned, by hand-worked days and against every other way to go on."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from inventory.core.clock import find_last_time
from inventory.core.day_plan import DayPlan, Kiln, MomentKind, Wish, WishKind
from inventory.core.lower_hold import offer_lower_top
from inventory.core.replanning import Turn, follow, list_set_points, lower_top, replan
from inventory.core.schedule import ScheduleStep, count_minutes
from inventory.core.timetable import compute_timetable
from tests.support import plain, told

MINUTE = timedelta(minutes=1)
LONDON = ZoneInfo("Europe/London")
POUR = datetime(2026, 11, 14, 18, 30, tzinfo=UTC)
#: The schedule of the other tests: 13 hours, turned at 0, 30, 180, ... minutes.
STEPS = (
    ScheduleStep(150, climb_minutes=60, hold_minutes=120),
    ScheduleStep(370, climb_minutes=120, hold_minutes=60),
    ScheduleStep(750, climb_minutes=180, hold_minutes=120),
    ScheduleStep(600, climb_minutes=60, hold_minutes=60),
)
PLAN = DayPlan(STEPS)
WISH = Wish(WishKind.POUR, POUR)
KILN_ON = POUR - timedelta(hours=13)


def turned(place, late=0, plan=PLAN, on=KILN_ON):
    """The set point of a place turned so many minutes after it was planned."""
    point = list_set_points(plan)[place]
    return Turn(place, point.set_c, on + (point.minute + late) * MINUTE)


def times(replanned):
    return {(one.kind, one.sentence): one.at for one in replanned.timetable.moments}


def test_forty_minutes_late_at_the_third_set_point_moves_all_that_follows_and_nothing_before():
    planned = compute_timetable(WISH, PLAN, LONDON)
    late = replan(WISH, PLAN, LONDON, [turned(0), turned(1), turned(2, 40)])
    third = KILN_ON + 180 * MINUTE
    for before, after in zip(planned.moments, late.timetable.moments, strict=True):
        assert before.sentence == after.sentence
        assert after.at - before.at == (40 if before.at >= third else 0) * MINUTE
    assert late.pour == POUR + 40 * MINUTE
    assert not any("too soon" in remark for remark in late.timetable.remarks)
    assert [one.planned for one in late.turns] == [
        KILN_ON + one.minute * MINUTE for one in list_set_points(PLAN)
    ]
    assert plain(late.timetable.remarks[0]) == (
        "The pour moves from Sat 14 Nov, 18:30 to Sat 14 Nov, 19:10, 40 min later: "
        "what is left keeps its full holds and climbs."
    )
    assert "set to 225 °C on Sat 14 Nov, 09:10, due Sat 14 Nov, 08:30 = 40 min late" in told(
        late.timetable.working
    )


def test_of_the_night_only_what_is_still_to_come_is_told():
    """Kiln on at 22:30 and eight turns before 7: on the way the remark counts what is left, and then says nothing."""
    on = POUR.replace(hour=22, minute=30)
    wish, first = Wish(WishKind.KILN_ON, on), turned(0, on=on)

    def remark(minutes):
        remarks = replan(wish, PLAN, LONDON, [first], since=on + minutes * MINUTE).timetable.remarks
        return next((plain(one) for one in remarks if "done by hand between" in one), "")

    assert [remark(minutes).split(" done")[0] for minutes in (0, 1, 31, 8 * 60 + 30)] == [
        "9 things are",
        "8 things are",
        "7 things are",
        "",
    ]
    assert "the first on Sun 15 Nov, 01:30" in remark(31)


def test_on_time_is_the_planned_timetable():
    points = range(len(list_set_points(PLAN)))
    followed = replan(WISH, PLAN, LONDON, [turned(place) for place in points])
    planned = compute_timetable(WISH, PLAN, LONDON)
    assert (followed.timetable.moments, followed.timetable.remarks) == (planned.moments, planned.remarks)
    assert replan(WISH, PLAN, LONDON).timetable == planned


def test_a_turn_that_comes_early_moves_nothing_forward_and_is_told():
    early = replan(WISH, PLAN, LONDON, [turned(0), turned(1), turned(2, -10)])
    assert early.pour == POUR
    assert early.turns[3].due == KILN_ON + list_set_points(PLAN)[3].minute * MINUTE
    assert plain(early.timetable.remarks[0]).startswith("The kiln was set to 225 °C 10 min too soon")
    assert early.timetable.remarks[1].startswith("If that was just now, turn it back")


@pytest.mark.parametrize(("minutes", "said"), [(4, 1), (5, 2)])
def test_a_hold_cut_short_by_five_minutes_is_worth_turning_back_for(minutes, said):
    """Five is a figure of ours."""
    early = replan(WISH, PLAN, LONDON, [turned(1), turned(2, -minutes)])
    assert early.turns[2].short_minutes == minutes
    assert sum("too soon" in one or "turn it back" in one for one in early.timetable.remarks) == said
    assert f"= {minutes} min early" in told(early.timetable.working)


def test_a_turn_that_nobody_wrote_down_makes_none_after_it_too_soon():
    made = replan(WISH, PLAN, LONDON, [turned(0), turned(2, -10)])
    assert [one.short_minutes for one in made.turns] == [0] * len(made.turns)


def test_what_follows_is_what_comes_after_the_last_turn_that_was_written_down():
    made = replan(WISH, PLAN, LONDON, [turned(0), turned(2)])
    assert made.is_followed is True and made.following == made.turns[3]
    assert replan(WISH, PLAN, LONDON).following.place == 0
    count = len(made.turns)
    every = replan(WISH, PLAN, LONDON, [turned(place) for place in range(count)])
    assert every.following is None
    # A turn of a schedule that had one set point more is none of this one.
    assert not replan(WISH, PLAN, LONDON, [Turn(count, 600, POUR)]).is_followed


def test_a_minute_late_is_late_and_what_was_mixed_before_the_kiln_stays_where_it_was():
    planned = compute_timetable(WISH, PLAN, LONDON)
    late = replan(WISH, PLAN, LONDON, [turned(0, 1)])
    assert "18:31, 1 min later:" in plain(late.timetable.remarks[0])
    assert "= 1 min late" in told(late.timetable.working)
    assert late.timetable.find(MomentKind.MIX).at == planned.find(MomentKind.MIX).at


def test_a_kiln_that_is_to_go_on_at_a_time_is_planned_for_that_time():
    turns, pour = follow(Wish(WishKind.KILN_ON, KILN_ON), PLAN, ())
    assert (turns[0].planned, pour) == (KILN_ON, POUR)


def test_a_kiln_that_goes_on_early_waits_where_the_pour_was_wished_and_goes_on_where_the_kiln_was():
    early = [turned(0, -30)]
    assert replan(WISH, PLAN, LONDON, early).pour == POUR
    assert replan(Wish(WishKind.KILN_ON, KILN_ON), PLAN, LONDON, early).pour == POUR - 30 * MINUTE


def test_the_flasks_stand_before_the_kiln_though_it_goes_on_early():
    moments = replan(WISH, PLAN, LONDON, [turned(0, -30)]).timetable.moments
    stand, on = (next(one.at for one in moments if one.kind == kind) for kind in ("stand", "kiln-on"))
    assert on - stand == 120 * MINUTE


def test_a_kiln_with_a_program_keeps_its_times_from_when_it_went_on():
    plan = DayPlan(STEPS, Kiln(has_program=True))
    late = replan(WISH, plan, LONDON, [turned(0, 25, plan)])
    planned = compute_timetable(WISH, plan, LONDON)
    after = [one for one in late.timetable.moments if one.at >= KILN_ON + 25 * MINUTE]
    before = [one for one in planned.moments if one.at >= KILN_ON]
    assert [one.at for one in after] == [one.at + 25 * MINUTE for one in before]


def test_a_turn_of_another_schedule_counts_for_nothing():
    other = [Turn(2, 999, POUR), Turn(40, 150, POUR)]
    assert replan(WISH, PLAN, LONDON, other).timetable == compute_timetable(WISH, PLAN, LONDON)


@pytest.mark.parametrize(
    "change", [datetime(2026, 3, 29, 8, tzinfo=UTC), datetime(2026, 10, 25, 8, tzinfo=UTC)]
)
def test_a_night_in_which_the_clocks_change_costs_no_hold(change):
    wish, on = Wish(WishKind.POUR, change), change - timedelta(hours=13)
    late = replan(wish, PLAN, LONDON, [turned(2, 40, on=on)])
    assert late.pour - late.turns[2].at == timedelta(hours=10)
    assert (
        late.timetable.find(MomentKind.POUR).clock.utcoffset()
        != late.turns[0].at.astimezone(LONDON).utcoffset()
    )
    assert any("keeps its full hours" in plain(remark) for remark in late.timetable.remarks)


SMALL = (
    (ScheduleStep(150, climb_minutes=3, hold_minutes=2), ScheduleStep(700, climb_minutes=4, hold_minutes=2)),
    (
        ScheduleStep(100, climb_minutes=2),
        ScheduleStep(300, hold_minutes=1, climb_minutes=3),
        ScheduleStep(80, 2),
    ),
)


def go_on(row, marks):
    """Every row of whole minutes that goes on from this one and cuts nothing that lies between two turns."""
    here = len(row)
    if here == len(marks):
        yield row
        return
    for minute in range(marks[-1] + 5):
        if all(minute - row[one] >= marks[here] - marks[one] for one in range(here)):
            yield from go_on([*row, minute], marks)


@pytest.mark.parametrize("kind", WishKind)
@pytest.mark.parametrize("steps", SMALL)
@pytest.mark.parametrize("late", [-1, 0, 2, 3])
def test_no_other_way_to_go_on_pours_nearer_to_the_wish(kind, steps, late):
    plan = DayPlan(steps, Kiln(largest_step_c=110))
    total = count_minutes(steps)
    wish = Wish(kind, POUR if kind == WishKind.POUR else POUR - total * MINUTE)
    minutes = [point.minute for point in list_set_points(plan)]
    on = POUR - total * MINUTE
    place = 1
    _, pour = follow(wish, plan, [turned(0, plan=plan, on=on), turned(place, late, plan, on)])
    ends = [row[-1] for row in go_on([0, minutes[place] + late], [*minutes, total])]
    least = min(abs(end - total) for end in ends)
    assert abs(pour - POUR) == least * MINUTE


def test_a_program_that_was_started_early_runs_early_and_the_pour_keeps_its_wish():
    plan = replace(PLAN, kiln=Kiln(has_program=True))
    early = replan(WISH, plan, LONDON, [turned(0, -30, plan)])
    assert [one.at for one in early.turns] == [
        KILN_ON + (point.minute - 30) * MINUTE for point in list_set_points(plan)
    ]
    assert early.pour == POUR


def test_a_step_that_stays_at_its_heat_is_lowered_without_a_climb():
    steps = (ScheduleStep(150, climb_minutes=60), ScheduleStep(150, climb_minutes=30, hold_minutes=60))
    assert [step.climb_minutes for step in lower_top(steps, 85, 20)] == [30, 30]


def test_a_lower_hold_pours_as_wished_and_no_higher_one_does():
    # The climb of 380 C in 180 min and the fall of 150 C in 60 min give back 0.87 min a degree: 43 of the 40 asked for.
    turns = [turned(place, 40 if place == 2 else 0) for place in range(3)]
    lower = offer_lower_top(WISH, PLAN, turns)
    assert (lower.top_c, lower.was_c, lower.is_in_time) == (700, 750, True)
    assert lower.pour == POUR
    assert replan(WISH, PLAN, LONDON, turns, top_c=700).pour == POUR
    assert replan(WISH, PLAN, LONDON, turns, top_c=705).pour > POUR
    # What was done before the kiln went on was done then, whichever top is chosen.
    mixed = {
        replan(WISH, PLAN, LONDON, turns, top_c=top).timetable.find(MomentKind.MIX).at for top in (None, 700)
    }
    assert len(mixed) == 1
    assert [step.hold_minutes for step in lower_top(STEPS, 700, 20)] == [120, 60, 120, 60]
    assert (
        told(lower.working).count("together = ") == told(lower.working).count("together = 12 h 17 min") == 1
    )


def test_a_lower_hold_is_not_offered_where_nothing_is_late_the_climb_has_begun_or_it_would_not_burn_out():
    late = [turned(place, 40 if place == 2 else 0) for place in range(3)]
    assert offer_lower_top(WISH, PLAN, [turned(2)]) is None
    assert offer_lower_top(WISH, PLAN, [turned(2, 14)]) is None
    assert offer_lower_top(WISH, PLAN, [turned(2, 15)]) is not None
    # Where the kiln's going on was wished a lower hold would pour before what anybody waits for.
    assert offer_lower_top(Wish(WishKind.KILN_ON, KILN_ON), PLAN, [turned(2)]) is None
    begun = next(place for place, point in enumerate(list_set_points(PLAN)) if point.from_c == 370)
    assert offer_lower_top(WISH, PLAN, [turned(begun, 40)]) is None
    low = DayPlan((*STEPS[:2], ScheduleStep(650, climb_minutes=180, hold_minutes=120), STEPS[3]))
    assert offer_lower_top(WISH, low, [Turn(2, 225, late[2].at + timedelta(hours=3))]) is None


def test_what_cannot_be_made_up_is_offered_as_the_lowest_that_burns_out():
    lower = offer_lower_top(WISH, PLAN, [turned(2, 180)])
    assert (lower.top_c, lower.is_in_time) == (650, False)
    assert POUR < lower.pour < POUR + 180 * MINUTE


@pytest.mark.parametrize(
    ("clock", "now", "found"),
    [
        ((9, 10), "2026-11-14 09:12", "2026-11-14 09:10"),
        ((9, 12), "2026-11-14 09:12", "2026-11-14 09:12"),
        ((23, 50), "2026-11-14 00:05", "2026-11-13 23:50"),
        # Clocks go back at 01:00 UTC on 25 October: 01:30 comes at 00:30 and at 01:30 UTC.
        ((1, 30), "2026-10-25 00:40", "2026-10-25 00:30"),
        ((1, 30), "2026-10-25 01:40", "2026-10-25 01:30"),
        # And forward on 29 March at 01:00 UTC: 01:30 was last shown the day before.
        ((1, 30), "2026-03-29 01:40", "2026-03-28 01:30"),
    ],
)
def test_a_clock_time_is_the_last_moment_at_which_the_wall_showed_it(clock, now, found):
    now, found = (datetime.fromisoformat(one).replace(tzinfo=UTC) for one in (now, found))
    assert find_last_time(*clock, now, LONDON) == found
