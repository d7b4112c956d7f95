"""Pours that let a person sleep: nothing of the day is to be done by hand in the studio's night.

Moments are UTC; the night is the studio's clock, so each is looked at on that clock.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

from .clock import QuietHours, find_moment
from .day_plan import MomentKind
from .occupied import QUARTER, round_up_to_quarter
from .timetable import Moment

SLEEP_DAYS = 2


@dataclass(frozen=True, slots=True)
class Asleep:
    """What of a day must miss the night, as offsets from its pour: what is done by hand, and where it begins."""

    hands: tuple[timedelta, ...]
    lead: timedelta

    @classmethod
    def of(cls, moments: Sequence[Moment]) -> "Asleep":
        pour = next(moment.at for moment in moments if moment.kind == MomentKind.POUR)
        hands = dict.fromkeys(moment.at - pour for moment in moments if moment.by_hand)
        return cls(tuple(hands), pour - moments[0].at)


def list_quiet_pours(
    asleep: Asleep, quiet: QuietHours, zone: tzinfo, now: datetime, days: int = SLEEP_DAYS
) -> tuple[datetime, ...]:
    """Every pour by quarter hours within some days that leaves the night alone, in UTC, the first at the front.

    The days begin at the earliest pour that can still be had. A time that the clock shows twice is offered only as
    the one that is meant when it is written.
    """
    since = datetime(2000, 1, 1, tzinfo=UTC)
    first = since + round_up_to_quarter(now + asleep.lead - since)
    pours = (first + QUARTER * place for place in range(days * 24 * 4))
    return tuple(
        pour
        for pour in pours
        if not any(quiet.holds((pour + offset).astimezone(zone).time()) for offset in asleep.hands)
        and find_moment(pour.astimezone(zone).replace(tzinfo=None), zone).at == pour
    )


def choose_offers(pours: Sequence[datetime], most: int = 3) -> tuple[datetime, ...]:
    """The first and the last of each run of quarter hours, as many as are offered."""
    apart = [
        (before, after)
        for before, after in zip([None, *pours], [*pours, None], strict=True)
        if before is None or after is None or after - before > QUARTER
    ]
    ends = [pour for pair in apart for pour in pair if pour is not None]
    return tuple(dict.fromkeys(ends))[:most]
