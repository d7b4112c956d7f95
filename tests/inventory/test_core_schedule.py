"""Burnout schedules: their hours, their curve, what is set on the kiln, and what stands against them."""

from itertools import pairwise

import pytest

from inventory.core.kiln_curve import Curve, KilnCurves
from inventory.core.schedule import (
    Pace,
    ScheduleStep,
    compute_curve,
    compute_set_points,
    compute_total_minutes,
    count_minutes,
    explain_set_points,
    lay_out,
    list_asked,
    split_climb,
    tell_slower,
)
from inventory.core.schedule_check import STEPS_MOST, check_schedule

SMALL = (
    ScheduleStep(150, climb_minutes=60, hold_minutes=120, label="wax out"),
    ScheduleStep(750, climb_c_per_hour=150, hold_minutes=180, label="top"),
    ScheduleStep(600, climb_minutes=60, hold_minutes=60),
)


def set_on(steps, start_c=20, largest_step_c=75):
    return [(point.minute, point.set_c) for point in compute_set_points(steps, start_c, largest_step_c)]


def sentences(steps, **kwargs):
    return [remark.sentence.replace("\u00a0", " ") for remark in check_schedule(steps, **kwargs)]


def test_the_hours_are_all_climbs_and_holds():
    total, working = compute_total_minutes(SMALL)
    assert total == 60 + 120 + 240 + 180 + 60 + 60
    assert working.result == "12\u00a0h"
    assert [step.result for step in working.steps][-1] == working.result


def test_a_climb_by_its_rate_takes_longer_from_a_colder_kiln():
    step = (ScheduleStep(120, climb_c_per_hour=100),)
    assert count_minutes(step, start_c=20) == 60
    assert count_minutes(step, start_c=0) == 72


def test_the_curve_begins_at_the_room_and_ends_at_the_pour():
    curve = compute_curve(SMALL, start_c=18)
    assert curve == ((0, 18), (60, 150), (180, 150), (420, 750), (600, 750), (660, 600), (720, 600))


def test_a_climb_by_hand_is_made_in_steps_evenly_in_time():
    assert set_on((ScheduleStep(320, climb_minutes=80, hold_minutes=60),)) == [
        (0, 95), (20, 170), (40, 245), (60, 320),
    ]  # fmt: skip


def test_a_fall_is_made_in_steps_too():
    assert set_on((ScheduleStep(600, climb_minutes=60),), start_c=750) == [(0, 675), (30, 600)]


def test_a_short_climb_is_one_set_point():
    assert set_on((ScheduleStep(60, climb_minutes=60),)) == [(0, 60)]


def test_steps_that_would_begin_with_a_few_degrees_are_made_nearly_alike_and_round():
    assert split_climb(370, 750, 75, 200) == [435, 495, 560, 625, 685, 750]


def test_a_knob_is_not_turned_twice_in_a_minute():
    assert set_on((ScheduleStep(320, climb_minutes=2),)) == [(0, 170), (1, 320)]


FAST = (ScheduleStep(149, hold_minutes=120), ScheduleStep(371, hold_minutes=120))


def test_a_climb_as_fast_as_the_kiln_can_takes_its_time_and_cuts_no_hold_short():
    # 129 degrees at a guessed 250 an hour are 31 min and 222 are 54 min, rounded up; computed.
    holds = [stretch for stretch in lay_out(FAST) if stretch.is_hold]
    assert [(hold.start_minute, hold.minutes) for hold in holds] == [(31, 120), (31 + 120 + 54, 120)]
    down = lay_out((ScheduleStep(621),), start_c=732)
    assert [stretch.minutes for stretch in down] == [67]  # 111 degrees at a guessed 100 an hour


def test_a_climb_as_fast_as_the_kiln_can_keeps_the_largest_step():
    assert set_on(FAST) == [(0, 74), (15, 149), (151, 221), (169, 296), (187, 371)]


def test_a_guessed_pace_is_said_in_the_working_and_a_measured_one_too():
    def origins(*steps):
        _, working = compute_total_minutes(steps)
        return [(given.value.replace("\u00a0", " "), given.origin) for given in working.givens[2:]]

    own = Pace(climb_c_per_hour=400)
    assert origins(*FAST) == [("by 250 °C an hour", "a guess until you measure it")]
    assert origins(ScheduleStep(149, hold_minutes=60, pace=own)) == [
        ("by 400 °C an hour", "your own setting")
    ]
    assert origins(*SMALL) == []


#: Up towards 1000 C with 120 min, down towards a room of 20 C with 354 min, from two firings.
OWN = Pace(
    climb_c_per_hour=400,
    curves=KilnCurves(Curve(1000, 120, 20, 750, 2, 40), Curve(20, 354, 540, 750, 2, 20)),
)


def test_a_kilns_own_curve_comes_before_the_studios_pace_as_far_as_it_is_believed():
    def minutes(from_c, to_c):
        return ScheduleStep(to_c, pace=OWN).compute_climb_minutes(from_c)

    # 120 ln(980 / 268) = 155.6 min and 354 ln(712 / 601) = 60.0 min, rounded up; computed.
    assert (minutes(20, 732), minutes(732, 621)) == (156, 60)
    assert OWN.of(20, 732) == (274, "your kiln's own curve, from 2 firings")
    assert minutes(20, 900) == 132 and OWN.of(20, 900)[1] == "your own setting"
    assert minutes(621, 100) == 313 and OWN.of(621, 100)[1] == "a guess until you measure it"


def test_a_climb_that_the_kiln_cannot_do_takes_what_it_needs_with_its_hold_whole_and_says_so():
    steps = (
        ScheduleStep(371, 90, hold_minutes=60, pace=OWN),
        ScheduleStep(732, 60, hold_minutes=150, pace=OWN),
    )
    laid = lay_out(steps)
    assert [(one.minutes, one.asked_minutes) for one in laid] == [(90, 0), (60, 0), (103, 60), (150, 0)]
    (said,) = tell_slower(steps)
    assert "in 1 h: it takes 1 h 43 min by your kiln's own curve, from 2 firings" in said.replace(
        "\u00a0", " "
    )
    _, working = compute_total_minutes(steps)
    assert "the schedule gives 1" in working.steps[2].text
    rate = ScheduleStep(732, climb_c_per_hour=361, pace=OWN)
    assert rate.compute_climb_minutes(371) == 103 and rate.compute_asked_minutes(371) == 60
    assert ScheduleStep(732, 200, pace=OWN).compute_climb_minutes(371) == 200


def test_what_a_program_asks_at_a_temperature_is_told():
    asked = list_asked(lay_out((ScheduleStep(120, 50), ScheduleStep(732), ScheduleStep(600, 66))))
    assert (asked(70, True), asked(400, True), asked(650, False)) == (2, None, 2)
    assert asked(70, False) == asked(900, True) == 0


def test_set_points_on_a_curve_stand_where_the_kiln_comes_to_them():
    points = compute_set_points((ScheduleStep(732, pace=OWN),), largest_step_c=200)
    starts = [(point.minute, point.set_c) for point in points]
    # 120 ln(980 / (1000 - c)) for 132, 332 and 532 C, rounded up; computed.
    assert starts == [(0, 132), (15, 332), (46, 532), (89, 732)]
    assert compute_curve((ScheduleStep(732, pace=OWN),))[-1] == (156, 732)
    corners = compute_curve((ScheduleStep(732, pace=OWN),))
    assert len(corners) == 5 and all(later > earlier for earlier, later in pairwise(corners))


def test_a_kiln_with_a_program_has_a_point_for_each_climb_and_hold():
    points = compute_set_points(SMALL, largest_step_c=None)
    assert [(point.minute, point.set_c, point.hold_minutes) for point in points] == [
        (0, 150, 0), (60, 150, 120), (180, 750, 0), (420, 750, 180), (600, 600, 0), (660, 600, 60),
    ]  # fmt: skip


def test_a_hold_at_the_room_is_no_climb():
    assert set_on((ScheduleStep(20, hold_minutes=30), ScheduleStep(60, climb_minutes=30))) == [
        (0, 20),
        (30, 60),
    ]


def test_a_climb_has_minutes_or_a_rate_and_not_both():
    with pytest.raises(ValueError, match="not both"):
        ScheduleStep(150, climb_minutes=60, climb_c_per_hour=100)


def test_a_good_schedule_has_nothing_against_it():
    assert check_schedule(SMALL, most_c=750) == ()


def test_a_schedule_above_its_powder_is_told_which_step():
    (remark,) = check_schedule(SMALL, most_c=730)
    assert remark.step == 1
    assert not remark.is_caution
    assert "730\u00a0°C at most" in remark.sentence


def test_gypsum_above_750_is_a_caution_and_stops_nothing():
    hot = (hold(150, 60, 120), ScheduleStep(760, climb_c_per_hour=200, hold_minutes=60))
    (remark,) = check_schedule(hot)
    assert remark.is_caution
    assert "sulfur dioxide" in remark.sentence
    assert check_schedule(hot, most_c=900, is_gypsum_bonded=False) == ()


def test_a_schedule_without_steps_is_told_to_begin():
    assert sentences(()) == ["A schedule needs a step: write the first temperature and how long it is held."]


@pytest.mark.parametrize(
    ("step", "words"),
    [
        (ScheduleStep(700, climb_minutes=10), "no kiln goes from 20 °C to 700 °C in 10 min"),
        (ScheduleStep(700, climb_c_per_hour=0), "between 1 and 1,500 °C an hour"),
        (ScheduleStep(700, climb_c_per_hour=9_000), "between 1 and 1,500 °C an hour"),
        (ScheduleStep(700, climb_c_per_hour=2), "more than a day"),
        (ScheduleStep(1_400, climb_minutes=600), "between 0 and 1,300 °C"),
        (ScheduleStep(-5, climb_minutes=600), "between 0 and 1,300 °C"),
        (ScheduleStep(700, climb_minutes=2_000), "24 h at most"),
        (ScheduleStep(700, climb_minutes=-1), "24 h at most"),
        (ScheduleStep(700, climb_minutes=60, hold_minutes=2_000), "24 h at most"),
        (ScheduleStep(20), "changes nothing"),
        (ScheduleStep(20, climb_c_per_hour=100), "changes nothing"),
        (ScheduleStep(700, climb_minutes=60, label="x" * 61), "60 letters"),
    ],
)
def test_a_step_no_kiln_can_do_is_told_how_to_mend_it(step, words):
    assert any(words in sentence for sentence in sentences((step,)))


def test_a_schedule_of_too_many_steps_is_told_so():
    assert "24 steps at most" in sentences([ScheduleStep(100, hold_minutes=5)] * (STEPS_MOST + 1))[0]


def test_a_schedule_of_more_than_a_week_is_told_so():
    steps = [ScheduleStep(100 + place, climb_minutes=60, hold_minutes=1_440) for place in range(8)]
    assert "a week is the most" in sentences(steps)[0]


def test_a_schedule_that_takes_no_time_is_told_so():
    assert "no time at all" in sentences((ScheduleStep(20, climb_c_per_hour=1_500),), start_c=19)[0]


@pytest.mark.parametrize(
    "steps", [SMALL, (ScheduleStep(149, hold_minutes=120), ScheduleStep(371)), SMALL[:1]]
)
@pytest.mark.parametrize("largest_step_c", [20, 75, 800])
def test_the_turns_of_each_climb_add_up_to_all_set_points(steps, largest_step_c):
    turns = len(compute_set_points(steps, 20, largest_step_c))
    told = [step.result for step in explain_set_points(steps, 20, largest_step_c).steps]
    counts = [1 if text == "once" else int(text.removesuffix(" times")) for text in told]
    assert counts[-1] == turns == sum(counts[:-1])


def test_two_climbs_in_one_minute_are_one_turn():
    steps = (ScheduleStep(20, climb_c_per_hour=1_500), ScheduleStep(60, climb_minutes=30))
    assert explain_set_points(steps, start_c=19).result == "once"


@pytest.mark.parametrize(
    ("step", "about"),
    [
        (ScheduleStep(1400, hold_minutes=60), "target"),
        (ScheduleStep(700, climb_minutes=1), "climb"),
        (ScheduleStep(700, climb_c_per_hour=1), "climb"),
        (ScheduleStep(700, hold_minutes=1500), "hold"),
        (ScheduleStep(700, hold_minutes=60, label="x" * 61), "label"),
        (ScheduleStep(20), ""),
    ],
)
def test_a_remark_names_what_of_the_step_it_is_about(step, about):
    faults = [remark for remark in check_schedule([step]) if not remark.is_caution]
    assert [(remark.step, remark.about) for remark in faults] == [(0, about)]


def hold(target_c: int, climb_minutes: int, hold_minutes: int) -> ScheduleStep:
    return ScheduleStep(target_c, climb_minutes=climb_minutes, hold_minutes=hold_minutes)


def cautions(*steps: ScheduleStep) -> str:
    return " ".join(remark.sentence for remark in check_schedule(steps) if remark.is_caution)


def test_a_schedule_that_burns_nothing_out_is_cautioned():
    assert "Below 650" in cautions(hold(150, 60, 120), hold(649, 180, 120))
    assert cautions(hold(150, 60, 120), hold(650, 180, 120)) == ""


def test_a_schedule_that_leaves_wax_and_steam_no_time_is_cautioned():
    assert "a mould that is heated fast cracks" in cautions(hold(730, 50, 5))
    assert "heated fast" in cautions(hold(400, 60, 29), hold(730, 60, 60))
    assert cautions(hold(400, 60, 30), hold(730, 60, 60)) == ""


@pytest.mark.parametrize("rate", [0, -1])
def test_a_climb_of_no_degrees_an_hour_never_ends(rate):
    with pytest.raises(ValueError, match="no degrees an hour"):
        ScheduleStep(700, climb_c_per_hour=rate).compute_climb_minutes(20)


def test_a_climb_of_a_degree_an_hour_takes_an_hour_for_each():
    assert ScheduleStep(22, climb_c_per_hour=1).compute_climb_minutes(20) == 120


def test_a_climb_to_where_the_kiln_stands_takes_no_time_and_draws_nothing():
    for step in (ScheduleStep(150), ScheduleStep(150, climb_c_per_hour=100)):
        assert step.compute_climb_minutes(150) == 0
        assert lay_out((step,), start_c=150) == ()
        assert compute_set_points((step,), 150) == ()


def test_a_climb_that_has_minutes_and_no_degrees_is_a_hold():
    (stretch,) = lay_out((ScheduleStep(150, climb_minutes=30, hold_minutes=60),), start_c=150)
    assert stretch.is_hold and (stretch.start_minute, stretch.minutes) == (0, 90)
