"""The calendar file of a casting day, read back with icalendar and with a reader of our own."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from icalendar import Alarm, Calendar
from icalendar.alarms import Alarms

from inventory.calendar_file import CalendarEvent, clean_text, list_events, write_calendar
from inventory.core.day_plan import DayPlan, MomentKind, Wish, WishKind
from inventory.core.schedule import ScheduleStep
from inventory.core.timetable import compute_timetable
from tests.calendar_reader import blocks, unescape, values

LONDON = ZoneInfo("Europe/London")
MADE_AT = datetime(2026, 6, 1, 9, 30, tzinfo=UTC)
BEGINS = datetime(2026, 6, 10, 15, 0, tzinfo=UTC)
STEPS = (
    ScheduleStep(150, climb_minutes=60, hold_minutes=120, label="wax out"),
    ScheduleStep(750, climb_minutes=240, hold_minutes=240),
    ScheduleStep(600, climb_minutes=60, hold_minutes=60),
)
TABLE = compute_timetable(
    Wish(WishKind.POUR, datetime(2026, 6, 10, 16, 0, tzinfo=LONDON)), DayPlan(STEPS), LONDON
)


def event(**changes):
    usual = {
        "uid": "plan-1-pour-1", "sequence": 0, "begins": BEGINS, "ends": BEGINS + timedelta(minutes=10),
        "summary": "Pour.", "alarms_before_minutes": (10, 0),
    }  # fmt: skip
    return CalendarEvent(**(usual | changes))


def write(**changes):
    return write_calendar([event(**changes)], MADE_AT)


def test_the_calendar_names_its_version_and_who_made_it():
    (calendar,) = blocks(write(), "VCALENDAR")
    assert values(calendar, "VERSION") == ["2.0"]
    assert values(calendar, "PRODID") == ["-//Casting studio//Casting day//EN"]


def test_an_event_has_each_thing_that_rfc_5545_asks_for_once():
    (lines,) = blocks(write(sequence=4), "VEVENT")
    assert values(lines, "UID") == ["plan-1-pour-1"]
    assert values(lines, "DTSTAMP") == ["20260601T093000Z"]
    assert values(lines, "DTSTART") == ["20260610T150000Z"]
    assert values(lines, "DTEND") == ["20260610T151000Z"]
    assert values(lines, "SEQUENCE") == ["4"]
    assert values(lines, "SUMMARY") == ["Pour."]
    assert len(values(lines, "DESCRIPTION")) == 1


def test_an_alarm_has_each_thing_that_rfc_5545_asks_for_once():
    alarms = blocks(write(), "VALARM")
    assert [values(lines, "ACTION") for lines in alarms] == [["DISPLAY"], ["DISPLAY"]]
    assert [values(lines, "DESCRIPTION") for lines in alarms] == [["Pour."], ["Pour."]]
    assert [values(lines, "TRIGGER") for lines in alarms] == [["-PT10M"], ["P0D"]]


def test_alarms_ring_at_the_moment_and_before_it():
    (read,) = Calendar.from_ical(write()).events
    assert [alarm.trigger for alarm in read.alarms.times] == [BEGINS - timedelta(minutes=10), BEGINS]


def test_a_moment_in_the_studios_zone_is_written_in_utc():
    begins = datetime(2026, 6, 10, 16, 0, tzinfo=LONDON)
    (lines,) = blocks(write(begins=begins, ends=begins + timedelta(minutes=5)), "VEVENT")
    assert values(lines, "DTSTART") == ["20260610T150000Z"]


def test_the_whole_day_has_an_event_for_each_moment_but_one_for_investing():
    events = list_events(TABLE, "plan-1", "Cast 12")
    kinds = [one.uid.removeprefix("plan-1-") for one in events]
    assert kinds[:5] == ["mix-1", "stand-1", "kiln-on-1", "set-point-1", "set-point-2"]
    assert kinds[-3:] == ["crucible-1", "pour-1", "quench-1"]
    assert "Vacuum on the flasks: 2\u00a0min." in events[0].description


def test_the_whole_day_reads_back_with_every_name_once():
    file = write_calendar(list_events(TABLE, "plan-1", "Cast 12", revision=2), MADE_AT)
    names = [values(lines, "UID")[0] for lines in blocks(file, "VEVENT")]
    assert len(set(names)) == len(names)
    assert all(values(lines, "SEQUENCE") == ["2"] for lines in blocks(file, "VEVENT"))
    assert len(Calendar.from_ical(file).events) == len(names)


def test_what_is_done_by_hand_rings_and_the_rest_does_not():
    file = write_calendar(list_events(TABLE, "plan-1", "Cast 12", alarm_before_minutes=15), MADE_AT)
    by_hand = {one.at for one in TABLE.moments if one.by_hand}
    for read in Calendar.from_ical(file).events:
        wanted = {read.start - timedelta(minutes=15), read.start} if read.start in by_hand else set()
        assert {alarm.trigger for alarm in read.alarms.times} == wanted


def test_the_pour_rings_when_the_timetable_says():
    file = write_calendar(list_events(TABLE, "plan-1", "Cast 12"), MADE_AT)
    pour = next(read for read in Calendar.from_ical(file).events if "pour-1" in read["uid"])
    assert pour.start == TABLE.find(MomentKind.POUR).at == BEGINS
    assert max(alarm.trigger for alarm in pour.alarms.times) == BEGINS


def test_no_minutes_before_leaves_the_one_alarm_at_the_moment():
    events = list_events(TABLE, "plan-1", "Cast 12", alarm_before_minutes=0)
    assert {one.alarms_before_minutes for one in events} == {(), (0,)}


def test_the_same_plan_changed_keeps_its_names():
    later = compute_timetable(Wish(WishKind.POUR, BEGINS + timedelta(days=1)), DayPlan(STEPS), LONDON)
    assert [one.uid for one in list_events(later, "plan-1", "Cast 12", revision=1)] == [
        one.uid for one in list_events(TABLE, "plan-1", "Cast 12")
    ]


@pytest.mark.parametrize("minutes", [-1, 1_441])
def test_an_alarm_out_of_bounds_is_the_programs_mistake(minutes):
    with pytest.raises(ValueError, match="an alarm rings"):
        list_events(TABLE, "plan-1", "Cast 12", alarm_before_minutes=minutes)


@pytest.mark.parametrize(
    "changes",
    [
        {"ends": BEGINS},
        {"begins": datetime(2026, 6, 10, 15, 0), "ends": datetime(2026, 6, 10, 16, 0)},
    ],
)
def test_an_event_without_length_or_zone_is_the_programs_mistake(changes):
    with pytest.raises(ValueError, match="ends after it begins|know their zone"):
        write(**changes)


def test_a_calendar_without_events_or_with_two_of_one_name_is_not_written():
    for events in ([], [event(), event()]):
        with pytest.raises(ValueError, match="a name of its own"):
            write_calendar(events, MADE_AT)


def test_signs_that_mean_something_in_the_file_are_only_text():
    text = "Leaf; ring, 3 x\\n 7\nEND:VEVENT\r\nBEGIN:VALARM"
    file = write(description=text)
    (lines,) = blocks(file, "VEVENT")
    assert unescape(values(lines, "DESCRIPTION")[0]) == "Leaf; ring, 3 x\\n 7\nEND:VEVENT\nBEGIN:VALARM"


def test_control_characters_and_broken_halves_are_dropped():
    assert clean_text("a\x00b\x07c\ud800d\x7fe\x9bf\tg") == "abcdefg"
    assert clean_text("one\r\ntwo\rthree\u2028four") == "one\ntwo\nthree\nfour"


def test_a_very_long_text_is_cut():
    assert len(clean_text("x" * 5_000)) == 1_000


def test_the_judge_repeats_an_alarm_as_rfc_5545_prints_it():
    """RFC 5545, section 3.6.6: DATE-TIME 19970317T133000Z, REPEAT 4, DURATION PT15M: 13:30 to 14:30 Z; read."""
    alarm = Alarm.from_ical(
        "BEGIN:VALARM\r\nTRIGGER;VALUE=DATE-TIME:19970317T133000Z\r\nREPEAT:4\r\nDURATION:PT15M\r\n"
        "ACTION:AUDIO\r\nEND:VALARM\r\n"
    )
    first = datetime(1997, 3, 17, 13, 30, tzinfo=UTC)
    assert [one.trigger for one in Alarms(alarm).times] == [
        first + timedelta(minutes=15 * times) for times in range(5)
    ]
