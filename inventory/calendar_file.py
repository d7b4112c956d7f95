"""The casting day as a calendar file (RFC 5545) that a phone takes in, with an alarm for each thing done by hand."""

import unicodedata
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import takewhile

from icalendar import Alarm, Calendar, Event

from inventory.core.day_plan import MomentKind
from inventory.core.timetable import Moment, Timetable

CONTENT_TYPE = "text/calendar; charset=utf-8"
PRODUCT = "-//Casting studio//Casting day//EN"
TEXT_MOST = 1_000
ALARM_MINUTES_MOST = 24 * 60
BY_HAND_MINUTES = 10
"""How long a thing that is done by hand stands in the calendar."""

# Eight minutes with one bowl are one entry: nobody reads a calendar with a bowl in the hands.
INVESTING = (MomentKind.VACUUM_BOWL, MomentKind.FILL, MomentKind.VACUUM_FLASK)


@dataclass(frozen=True, slots=True)
class CalendarEvent:
    """One entry. `uid` stays the same when the plan is changed, and `sequence` grows, so a calendar updates it.

    `alarms_before_minutes` holds 0 for an alarm at the moment itself. `is_busy` is for what needs a person.
    """

    uid: str
    sequence: int
    begins: datetime
    ends: datetime
    summary: str
    description: str = ""
    alarms_before_minutes: tuple[int, ...] = ()
    is_busy: bool = True
    is_cancelled: bool = False


def cancel_event(uid: str, sequence: int, at: datetime, title: str) -> CalendarEvent:
    """What takes an event out of a calendar that has it (RFC 5545, STATUS): nothing rings, nobody is busy."""
    ends, said = at + timedelta(minutes=1), f"Not on this day any more: {title}"
    return CalendarEvent(uid, sequence, at, ends, said, is_busy=False, is_cancelled=True)


def list_events(
    timetable: Timetable, plan_key: str, title: str, revision: int = 0, alarm_before_minutes: int = 10
) -> tuple[CalendarEvent, ...]:
    """The entries of a timetable. `plan_key` is the plan's own in all the world, such as a UUID kept with it.

    Things done by hand, the pour among them, ring at their moment and `alarm_before_minutes` earlier (0: only then).
    """
    if not 0 <= alarm_before_minutes <= ALARM_MINUTES_MOST:
        raise ValueError("an alarm rings between 0 minutes and a day before")
    alarms = tuple(sorted({alarm_before_minutes, 0}, reverse=True))
    counted: Counter[str] = Counter()
    events = []
    for moment, ends in _list_spans(timetable.moments):
        counted[moment.kind] += 1
        events.append(
            CalendarEvent(
                uid=f"{plan_key}-{moment.kind}-{counted[moment.kind]}",
                sequence=revision,
                begins=moment.at,
                ends=ends,
                # What is to be done first: a locked phone shows a few words only.
                summary=f"{moment.sentence} {title}",
                description=_describe(moment, timetable),
                alarms_before_minutes=alarms if moment.by_hand else (),
                is_busy=moment.by_hand,
            )
        )
    return tuple(events)


def _list_spans(moments: Sequence[Moment]) -> Iterator[tuple[Moment, datetime]]:
    """Each moment that has an entry of its own, and when that ends: what is not done by hand lasts till the next."""
    shown = [moment for moment in moments if moment.kind not in INVESTING]
    following = [*(moment.at for moment in shown[1:]), None]
    for moment, until in zip(shown, following, strict=True):
        shortest = moment.at + timedelta(minutes=1)
        usual = moment.at + timedelta(minutes=BY_HAND_MINUTES)
        if moment.by_hand or until is None:
            yield moment, usual
        else:
            yield moment, max(until, shortest)


def _describe(moment: Moment, timetable: Timetable) -> str:
    if moment.kind == MomentKind.MIX:
        after = timetable.moments[timetable.moments.index(moment) + 1 :]
        parts = takewhile(lambda one: one.kind in INVESTING, after)
        return "\n".join(one.sentence for one in (moment, *parts))
    return moment.sentence


def write_calendar(events: Sequence[CalendarEvent], made_at: datetime) -> bytes:
    """The file, in UTF-8, times in UTC.

    Raises ValueError for no event, one that ends before it begins, or two of one name.
    """
    if not events or len({event.uid for event in events}) < len(events):
        raise ValueError("a calendar file holds one event or more, each with a name of its own")
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    for event in events:
        calendar.add_component(_make_event(event, made_at))
    return calendar.to_ical()


def _make_event(event: CalendarEvent, made_at: datetime) -> Event:
    if event.ends <= event.begins:
        raise ValueError("an event ends after it begins")
    made = Event()
    made.add("uid", clean_text(event.uid))
    made.add("sequence", event.sequence)
    made.add("dtstamp", _in_utc(made_at))
    made.add("dtstart", _in_utc(event.begins))
    made.add("dtend", _in_utc(event.ends))
    made.add("summary", clean_text(event.summary).replace("\n", " "))
    made.add("description", clean_text(event.description))
    made.add("transp", "OPAQUE" if event.is_busy else "TRANSPARENT")
    if event.is_cancelled:
        made.add("status", "CANCELLED")
    for minutes in event.alarms_before_minutes:
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", clean_text(event.summary).replace("\n", " "))
        alarm.add("trigger", timedelta(minutes=-minutes))
        made.add_component(alarm)
    return made


def _in_utc(moment: datetime) -> datetime:
    """Raises ValueError for a moment without a zone: its hour would be another in every calendar."""
    if moment.tzinfo is None:
        raise ValueError("a calendar's moments know their zone")
    return moment.astimezone(UTC).replace(microsecond=0)


def clean_text(text: str) -> str:
    """A person's text without what no calendar may hold: control characters and broken halves of characters.

    All kinds of line ends become one; the text is cut at 1,000 characters.
    """
    lines = "\n".join(text[: 4 * TEXT_MOST].splitlines())
    kept = (sign for sign in lines if sign == "\n" or unicodedata.category(sign) not in ("Cc", "Cs"))
    return "".join(kept)[:TEXT_MOST]
