"""Any text a person types comes through the calendar file whole."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from inventory.calendar_file import CalendarEvent, clean_text, write_calendar
from tests.calendar_reader import blocks, unescape, values

BEGINS = datetime(2026, 6, 10, 15, 0, tzinfo=UTC)


@given(st.text(st.characters(), max_size=300))
def test_any_text_comes_back_as_it_was_typed(text):
    ends = BEGINS + timedelta(minutes=10)
    event = CalendarEvent("plan-1-pour-1", 0, BEGINS, ends, summary=text, description=text)
    file = write_calendar([event], BEGINS)
    (lines,) = blocks(file, "VEVENT")
    assert unescape(values(lines, "DESCRIPTION")[0]) == clean_text(text)
    assert unescape(values(lines, "SUMMARY")[0]) == clean_text(text).replace("\n", " ")
    (read,) = Calendar.from_ical(file).events
    assert str(read["description"]) == clean_text(text)
