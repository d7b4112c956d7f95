"""Clock times of a place: which moment a date and time on the wall mean, and which hours are quiet.

Two moments in one zone compare and subtract as the wall clock reads, not as time passes, so all sums are done
in UTC and only shown in the studio's zone.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta, tzinfo

from studio.kit.printing import print_moment

YEAR_LEAST, YEAR_MOST = 2000, 2100


@dataclass(frozen=True, slots=True)
class WallTime:
    """The moment, in UTC, that a date and time on the wall mean; None with the sentence that says why not.

    With a moment, the sentence is a note worth reading, or empty.
    """

    at: datetime | None
    sentence: str = ""


def find_moment(wall: datetime, zone: tzinfo) -> WallTime:
    """The moment of a date and time as typed. Of a time that comes twice, the first is taken.

    Raises ValueError for a time that knows a zone already.
    """
    if wall.tzinfo is not None:
        raise ValueError("a wall time has no zone of its own")
    if not YEAR_LEAST <= wall.year <= YEAR_MOST:
        return WallTime(None, f"Write a year between {YEAR_LEAST} and {YEAR_MOST}.")
    first = wall.replace(tzinfo=zone, fold=0)
    second = wall.replace(tzinfo=zone, fold=1)
    before, after = first.utcoffset(), second.utcoffset()
    if before is None or after is None:
        raise ValueError("a zone must know how far it is from UTC")
    if before == after:
        return WallTime(first.astimezone(UTC))
    if before < after:
        # In the gap, the old offset reads the time as the clock would show it once it is put forward.
        shown = print_moment(first.astimezone(UTC).astimezone(zone))
        return WallTime(
            None,
            f"{print_moment(wall)} does not exist: the clocks go forward over it. Write another time, such as {shown}.",
        )
    return WallTime(
        first.astimezone(UTC),
        f"{print_moment(wall)} comes twice, because the clocks go back in that night. The first of the two is meant.",
    )


@dataclass(frozen=True, slots=True)
class QuietHours:
    """The studio's night, from a clock time to a clock time, usually across midnight; alike, there is none."""

    begin: time = time(22, 0)
    end: time = time(7, 0)

    def holds(self, clock: time) -> bool:
        """Whether a clock time is in the night; the end is not."""
        if self.begin <= self.end:
            return self.begin <= clock < self.end
        return clock >= self.begin or clock < self.end

    def __str__(self) -> str:
        return f"{self.begin:%H:%M} and {self.end:%H:%M}"


def find_clock_change(first: datetime, last: datetime, zone: tzinfo) -> str:
    """A sentence when the clocks are changed between two moments, "" when they are not."""
    before, after = first.astimezone(zone).utcoffset(), last.astimezone(zone).utcoffset()
    if before is None or after is None or before == after:
        return ""
    way = "forward" if after > before else "back"
    minutes = abs(after - before) // timedelta(minutes=1)
    much = "an hour" if minutes == 60 else f"{minutes} minutes"
    return (
        f"The clocks go {way} by {much} meanwhile. The times are as the clock will show them; "
        "the firing keeps its full hours."
    )


def round_up_to_minute(moment: datetime) -> datetime:
    """The moment itself at a full minute, else the next full minute, in UTC."""
    full = moment.astimezone(UTC).replace(second=0, microsecond=0)
    return full if full == moment else full + timedelta(minutes=1)


def find_last_time(hour: int, minute: int, now: datetime, zone: tzinfo) -> datetime:
    """The last moment, in UTC, at which the studio's clock showed this time; of a time that comes twice, the later.

    A time over which the clocks went forward is that of the day before.
    """
    today = now.astimezone(zone).replace(hour=hour, minute=minute, second=0, microsecond=0, tzinfo=None)
    found = []
    for days in (0, 1, 2):
        for fold in (0, 1):
            shown = (today - timedelta(days=days)).replace(tzinfo=zone, fold=fold)
            at = shown.astimezone(UTC)
            if at <= now and at.astimezone(zone).replace(tzinfo=None) == shown.replace(tzinfo=None):
                found.append(at)
    return max(found)
