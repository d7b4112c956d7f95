"""The casting day from one wish to every moment of it."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from inventory.core.clock import QuietHours
from inventory.core.day_plan import DayPlan, FlaskPour, Kiln, MomentKind, StudioPractice, Wish, WishKind
from inventory.core.heat import Heats
from inventory.core.investing import compute_phases
from inventory.core.melting import MeltTime
from inventory.core.mixing import MixTurn
from inventory.core.schedule import Pace, ScheduleStep
from inventory.core.slow_pour import SlowPour
from inventory.core.timetable import compute_timetable
from studio.kit.working import Step, make_working

LONDON = ZoneInfo("Europe/London")
SMALL = (
    ScheduleStep(150, climb_minutes=60, hold_minutes=120, label="wax out"),
    ScheduleStep(750, climb_minutes=240, hold_minutes=240, label="top"),
    ScheduleStep(600, climb_minutes=60, hold_minutes=60),
)
# A studio that turns its kiln by 75 C and puts the metal in by the kiln.
PLAN = DayPlan(SMALL, Kiln(largest_step_c=75), StudioPractice(crucible_c=650))
HOURS = 13
# The last hold is short enough for the metal to wait through.
SHORT = (*SMALL[:2], ScheduleStep(600, climb_minutes=60, hold_minutes=30))


def pour_at(*when, plan=PLAN, zone=LONDON, now=None):
    return compute_timetable(Wish(WishKind.POUR, datetime(*when, tzinfo=zone)), plan, zone, now)


def clock(table, kind):
    return f"{table.find(kind).clock:%a %H:%M}"


def said(table):
    return " ".join(table.remarks).replace("\u00a0", " ")


def test_the_day_runs_back_from_the_pour():
    table = pour_at(2026, 6, 10, 16, 0)
    assert clock(table, MomentKind.MIX) == "Wed 00:52"
    assert clock(table, MomentKind.VACUUM_BOWL) == "Wed 00:56"
    assert clock(table, MomentKind.FILL) == "Wed 00:57"
    assert clock(table, MomentKind.VACUUM_FLASK) == "Wed 00:58"
    assert clock(table, MomentKind.STAND) == "Wed 01:00"
    assert clock(table, MomentKind.KILN_ON) == "Wed 03:00"
    assert clock(table, MomentKind.CRUCIBLE) == "Wed 15:40"
    assert clock(table, MomentKind.FLASK_READY) == "Wed 15:00"
    assert clock(table, MomentKind.POUR) == "Wed 16:00"
    assert clock(table, MomentKind.QUENCH) == "Wed 16:15"


def test_the_day_runs_on_from_the_kiln():
    wish = Wish(WishKind.KILN_ON, datetime(2026, 6, 10, 3, 0, tzinfo=LONDON))
    assert compute_timetable(wish, PLAN, LONDON).moments == pour_at(2026, 6, 10, 16, 0).moments


def test_a_kiln_without_a_program_is_turned_by_hand():
    table = pour_at(2026, 6, 10, 16, 0)
    points = [(f"{one.clock:%H:%M}", one.set_point_c) for one in table.moments if one.set_point_c]
    assert points[:3] == [("03:00", 75), ("03:30", 150), ("06:00", 225)]
    assert points[-2:] == [("14:00", 675), ("14:30", 600)]
    assert all(one.by_hand for one in table.moments if one.kind == MomentKind.SET_POINT)
    told = sentences(table, MomentKind.SET_POINT)
    assert told[0] == "Turn the kiln up to 150 °C (wax out)."
    assert told[-1] == "Turn the kiln down to 600 °C."


def test_a_kiln_with_a_program_goes_by_itself():
    table = pour_at(2026, 6, 10, 16, 0, plan=replace(PLAN, kiln=Kiln(has_program=True)))
    turns = [one for one in table.moments if one.kind == MomentKind.SET_POINT]
    assert not any(one.by_hand for one in turns)
    assert [f"{one.clock:%H:%M}" for one in turns] == ["04:00", "06:00", "10:00", "14:00", "15:00"]
    assert "start its program" in table.find(MomentKind.KILN_ON).sentence
    assert [one.sentence.replace("\u00a0", " ") for one in turns] == [
        "The kiln holds 150 °C for 2 h by itself (wax out).",
        "The kiln climbs to 750 °C by itself (top).",
        "The kiln holds 750 °C for 4 h by itself (top).",
        "The kiln cools to 600 °C by itself.",
        "The kiln holds 600 °C for 1 h by itself.",
    ]


def test_without_a_fall_the_metal_goes_in_some_minutes_before_the_pour():
    plan = DayPlan((ScheduleStep(600, climb_minutes=300, hold_minutes=60),))
    assert clock(pour_at(2026, 6, 10, 16, 0, plan=plan), MomentKind.CRUCIBLE) == "Wed 15:40"


def test_a_fall_at_a_guessed_pace_tells_nobody_when_the_metal_goes_in():
    fall = ScheduleStep(600, hold_minutes=20)
    plan = replace(PLAN, steps=(ScheduleStep(750, climb_minutes=300, hold_minutes=60), fall))
    table = pour_at(2026, 6, 10, 16, 0, plan=plan)
    assert clock(table, MomentKind.CRUCIBLE) == "Wed 15:40"
    assert clock(table, MomentKind.FLASK_READY) == "Wed 15:40"
    # 150 degrees at a measured 100 an hour are 1 h 30 min, so the kiln passes 650 an hour into them; computed.
    measured = replace(plan, steps=(plan.steps[0], replace(fall, pace=Pace(fall_c_per_hour=100))))
    assert clock(pour_at(2026, 6, 10, 16, 0, plan=measured), MomentKind.CRUCIBLE) == "Wed 15:10"


def test_a_fall_that_is_heated_up_again_is_not_the_one():
    plan = replace(PLAN, steps=(*SMALL, ScheduleStep(700, climb_minutes=60, hold_minutes=30)))
    assert clock(pour_at(2026, 6, 10, 16, 0, plan=plan), MomentKind.CRUCIBLE) == "Wed 15:40"


def test_a_short_schedule_has_no_metal_in_before_the_kiln_is_on():
    table = pour_at(2026, 6, 10, 16, 0, plan=DayPlan((ScheduleStep(30, climb_minutes=5, hold_minutes=5),)))
    assert table.find(MomentKind.CRUCIBLE).at == table.find(MomentKind.KILN_ON).at


def test_flasks_that_are_invested_already_are_not_invested_again():
    table = pour_at(2026, 6, 10, 16, 0, plan=replace(PLAN, phases=()))
    assert table.moments[0].kind == MomentKind.KILN_ON
    assert table.find(MomentKind.STAND) is None


def test_thirteen_hours_stay_thirteen_when_the_clocks_go_forward():
    """From 29 March 2026, 01:00, London's clocks show an hour more."""
    table = pour_at(2026, 3, 29, 10, 0)
    assert clock(table, MomentKind.KILN_ON) == "Sat 20:00"
    assert table.find(MomentKind.POUR).at - table.find(MomentKind.KILN_ON).at == timedelta(hours=HOURS)
    assert "clocks go forward by an hour" in said(table)


def test_thirteen_hours_stay_thirteen_when_the_clocks_go_back():
    table = pour_at(2026, 10, 25, 10, 0)
    assert clock(table, MomentKind.KILN_ON) == "Sat 22:00"
    assert "clocks go back by an hour" in said(table)


def test_what_is_done_by_hand_at_night_is_counted_and_said():
    table = pour_at(2026, 6, 10, 16, 0)
    night = [moment for moment in table.moments if moment.by_hand and moment.at_night]
    assert [f"{one.clock:%H:%M}" for one in night][:6] == [
        "00:52", "00:56", "00:57", "00:58", "03:00", "03:30",
    ]  # fmt: skip
    assert f"{len(night)} things are done by hand between 22:00 and 07:00" in said(table)


def test_a_day_outside_the_quiet_hours_has_no_such_remark():
    plan = replace(PLAN, practice=StudioPractice(quiet=QuietHours(time(0), time(0))))
    assert "by hand between" not in said(pour_at(2026, 6, 10, 16, 0, plan=plan))


def test_a_day_that_would_have_begun_already_gives_the_earliest_pour():
    now = datetime(2026, 6, 10, 7, 0, 20, tzinfo=UTC)
    table = pour_at(2026, 6, 10, 16, 0, now=now)
    assert table.earliest_pour == datetime(2026, 6, 10, 7, 1, tzinfo=UTC) + timedelta(hours=15, minutes=8)
    assert "which is past. If it is not done yet, the earliest pour is Wed 10 Jun, 23:09." in said(table)


def test_a_day_that_begins_just_now_is_in_time():
    table = pour_at(2026, 6, 10, 16, 0)
    assert pour_at(2026, 6, 10, 16, 0, now=table.moments[0].at).earliest_pour is None


def test_metal_goes_in_by_the_kiln_where_it_need_not_wait_long():
    table = pour_at(2026, 6, 10, 16, 0, plan=replace(PLAN, steps=SHORT))
    assert clock(table, MomentKind.CRUCIBLE) == "Wed 15:10"


def test_metal_never_waits_in_the_crucible_through_a_long_hold():
    """The kiln passes 650 degrees 1 h 20 min before the pour, and the metal melts in 20 min."""
    table = pour_at(2026, 6, 10, 16, 0)
    assert sentences(table, MomentKind.CRUCIBLE) == ["Metal into the crucible, 20 min before the pour."]
    slow = replace(PLAN, practice=replace(PLAN.practice, lead_minutes=90))
    assert clock(pour_at(2026, 6, 10, 16, 0, plan=slow), MomentKind.CRUCIBLE) == "Wed 14:40"
    assert "in the crucible for" not in said(table)


def test_the_hours_add_up_in_the_working():
    working = pour_at(2026, 6, 10, 16, 0).working
    steps = [(step.text.replace("\u00a0", " "), step.result.replace("\u00a0", " ")) for step in working.steps]
    assert ("together", "13 h") in steps
    assert ("Wed 10 Jun, 16:00 less 13 h", "Wed 10 Jun, 03:00") in steps
    assert ("Wed 10 Jun, 03:00 less 2 h and 8 min", "Wed 10 Jun, 00:52") in steps


def test_a_wish_without_a_zone_is_the_programs_mistake():
    with pytest.raises(ValueError, match="in a zone"):
        compute_timetable(Wish(WishKind.POUR, datetime(2026, 6, 10)), PLAN, LONDON)


TWO = (
    FlaskPour("fern studs", "Sterling", Heats(802, 893, 943, 993, 400, 675)),
    FlaskPour("coat hooks", "Bronze", Heats(831, 999, 1049, 1099, 430, 590)),
)


def sentences(table, kind):
    return [one.sentence.replace("\u00a0", " ") for one in table.moments if one.kind == kind]


def test_each_flask_has_its_own_lines_from_the_metal_to_the_quench():
    table = pour_at(2026, 6, 10, 16, 0, plan=replace(PLAN, steps=SHORT, flasks=TWO))
    assert sentences(table, MomentKind.CRUCIBLE) == [
        "Sterling into the crucible, as the kiln passes 650 °C on its way down.",
        "Bronze into the crucible, 20 min before its pour.",
    ]
    assert sentences(table, MomentKind.POUR) == [
        "Pour the Sterling: metal at 943 to 993 °C, flask at 400 to 675 °C.",
        "Pour the Bronze: metal at 1,049 to 1,099 °C, flask at 430 to 590 °C.",
    ]
    assert len(sentences(table, MomentKind.QUENCH)) == 2
    # A minute to pour and 20 to melt, as nobody knows the melter: the second flask is poured 21 min after the first.
    assert "come out of one kiln in turn: first the Sterling, the Bronze 21 min after it." in said(table)
    assert "The kiln holds 600 °C for 20 min more, until the last one is out." in said(table)
    assert table.queue_minutes == 20
    pours = [f"{one.clock:%H:%M}" for one in table.moments if one.kind == MomentKind.POUR]
    assert pours == ["16:00", "16:21"]
    assert table.queue.result.replace("\u00a0", " ") == "the last pour 21 min after the first"


def test_flasks_of_one_alloy_are_told_apart_by_their_trees():
    alike = (replace(TWO[0], heats=Heats()), FlaskPour("bud rings", "Sterling"))
    table = pour_at(2026, 6, 10, 16, 0, plan=replace(PLAN, flasks=alike))
    assert sentences(table, MomentKind.POUR) == ["Pour fern studs.", "Pour bud rings."]
    assert sentences(table, MomentKind.CRUCIBLE)[1].startswith("Metal into the crucible for bud rings, ")


def test_a_kiln_that_ends_too_hot_for_an_alloy_is_said_for_that_flask_alone():
    found = said(pour_at(2026, 6, 10, 16, 0, plan=replace(PLAN, flasks=TWO)))
    assert "The kiln ends at 600 °C, and Bronze asks for a flask at 430 to 590 °C." in found
    assert "and Sterling asks" not in found


def test_a_flask_alone_is_not_named_and_what_is_not_known_is_not_said():
    table = pour_at(2026, 6, 10, 16, 0)
    assert sentences(table, MomentKind.POUR) == ["Pour."]
    assert "in turn" not in said(table) and table.queue is None
    assert not {MomentKind.MELTED, MomentKind.OUT} & {one.kind for one in table.moments}


def test_the_quench_warns_of_its_steam():
    (quench,) = sentences(pour_at(2026, 6, 10, 16, 0), MomentKind.QUENCH)
    assert quench == "Quench, not before 15 min after the pour. Stand back: it steams."


FAMILIES = (
    replace(TWO[1], family="copper alloys", foulness=2, crucible="Graphite cup"),
    replace(TWO[0], family="silver", crucible="Graphite cup"),
)


def test_bronze_waits_for_silver_and_a_crucible_of_both_is_said():
    table = pour_at(2026, 6, 10, 16, 0, plan=replace(PLAN, flasks=FAMILIES))
    assert [one.flask for one in table.moments if one.kind == MomentKind.POUR] == [1, 0]
    assert "Graphite cup would melt Sterling and then Bronze" in said(table)
    own = (FAMILIES[0], replace(FAMILIES[1], crucible="Silver cup"))
    table = pour_at(2026, 6, 10, 16, 0, plan=replace(PLAN, flasks=own))
    assert "would melt" not in said(table)
    assert "in another crucible than before" in sentences(table, MomentKind.CRUCIBLE)[1]
    # Five minutes for the other crucible come on top of one to pour and 20 to melt.
    assert [f"{one.clock:%H:%M}" for one in table.moments if one.kind == MomentKind.POUR] == [
        "16:00",
        "16:26",
    ]


def test_an_alloy_that_waits_longer_for_its_quench_is_given_its_time():
    table = pour_at(2026, 6, 10, 16, 0, plan=replace(PLAN, flasks=(replace(TWO[0], quench_minutes=22),)))
    assert sentences(table, MomentKind.QUENCH)[0].startswith("Quench, not before 22 min after the pour.")
    assert clock(table, MomentKind.QUENCH) == "Wed 16:22"


def test_a_charge_that_melts_longer_than_the_lead_is_said():
    slow = MeltTime(34, "3 melts of your own", make_working("", "", Step("", "")))
    table = pour_at(2026, 6, 10, 16, 0, plan=replace(PLAN, flasks=(replace(TWO[0], melt=slow),)))
    assert "reckoned to melt in 34 min, and it goes in 20 min before the pour." in said(table)
    assert clock(table, MomentKind.CRUCIBLE) == "Wed 15:40"


def test_a_slow_pourer_is_told_the_set_point_with_the_metal():
    practice = replace(PLAN.practice, slow=SlowPour(30, 10))
    table = pour_at(2026, 6, 10, 16, 0, plan=replace(PLAN, practice=practice, flasks=TWO[:1]))
    assert sentences(table, MomentKind.CRUCIBLE) == [
        "Metal into the crucible, 20 min before the pour; melter at 973 °C."
    ]


def test_bowls_are_mixed_in_turn_before_the_flasks_stand():
    phases = compute_phases()
    mixes = tuple(MixTurn(phases, who, "300 g of powder into 120 g of water") for who in ("leaves", "hooks"))
    table = pour_at(2026, 6, 10, 16, 0, plan=replace(PLAN, mixes=mixes))
    assert [f"{one.clock:%H:%M}" for one in table.moments if one.kind == MomentKind.MIX] == ["00:44", "00:52"]
    assert clock(table, MomentKind.STAND) == "Wed 01:00"
    assert sentences(table, MomentKind.MIX)[1].startswith("Mix 2 of 2, for hooks: 300 g of powder into")
    assert sentences(table, MomentKind.FILL)[0] == "Mix 1 of 2: pour the mix into the flasks: 1 min."
    assert ("16 min") in [given.value.replace("\u00a0", " ") for given in table.working.givens]
