"""How long what is here may last: a range of days, and what may be left week by week."""

from dataclasses import dataclass
from datetime import date, timedelta

from .coming import first_short, taken_by
from .demand import compute_enough, sum_weeks, weeks_until_empty
from .outlook import Outlook
from .reorder import DAYS_PER_WEEK

FAN_WEEKS = 13
EARLY_PCT100, LATE_PCT100 = 1_000, 9_000
"""It is used up not before with 10 %, and by then with 90 %: commonly told ends of a range."""


def compute_run_out(outlook: Outlook) -> tuple[date | None, date | None]:
    """By when what counts is used up with 10 %, and with 90 %, in whole weeks, by a plan, or out of date; None beyond a
    year."""
    asked, counts = outlook.asked, outlook.counts
    ends = [
        asked.today + timedelta(days=weeks * DAYS_PER_WEEK) if weeks is not None else None
        for weeks in (
            weeks_until_empty(outlook.use.draws, counts, chance) for chance in (EARLY_PCT100, LATE_PCT100)
        )
    ]
    short = first_short(asked.takes, counts)
    planned = max(short[0].day, asked.today) if short else None
    stale = outlook.last_good_day
    early, late = (min((day for day in (end, planned, stale) if day), default=None) for end in ends)
    return early, late


@dataclass(frozen=True, slots=True)
class Ahead:
    """What may be here at the end of a week: with 10 %, 50 % and 90 % less than that."""

    day: date
    low: int
    middle: int
    high: int


def compute_fan(outlook: Outlook, weeks: int = FAN_WEEKS) -> tuple[Ahead, ...]:
    """What counts today and may be left week by week, with what is on the road, as use and plans take it."""
    asked, draws = outlook.asked, outlook.use.draws
    found = [Ahead(asked.today, outlook.counts, outlook.counts, outlook.counts)]
    step = max(1, max(draws, default=0) // 25)
    for week in range(1, weeks + 1):
        day = asked.today + timedelta(days=week * DAYS_PER_WEEK)
        brought = taken_by(asked.brings, day)
        is_good = outlook.last_good_day is None or day <= outlook.last_good_day
        planned = taken_by(asked.takes, day)
        spreads = [sum_weeks(draws, week, step)] if any(draws) else []
        taken = [
            max(compute_enough(spreads, chance) if spreads else 0, planned)
            for chance in (LATE_PCT100, 5_000, EARLY_PCT100)
        ]
        # What is here goes first; after its last day only what came since is left.
        counts = outlook.counts
        left = [max(counts - one, 0) * is_good + max(brought - max(one - counts, 0), 0) for one in taken]
        found.append(Ahead(day, *left))
    return tuple(found)
