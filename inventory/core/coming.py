"""What is taken and brought on a day, what of a lot goes out of date before it is used, and how long a parcel takes.

Quantities are in the material's small unit.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from itertools import accumulate
from math import floor

from .reorder import DAYS_PER_WEEK


@dataclass(frozen=True, slots=True)
class Dated:
    """So much that a plan or a quote takes on a day, or a parcel brings; `what` names it."""

    day: date
    quantity: int
    what: str


@dataclass(frozen=True, slots=True)
class Parcel:
    """A usable lot: what is in it, and the last day it is good, None for what keeps; it may still be on the road."""

    label: str
    quantity: int
    last_day: date | None = None
    is_on_road: bool = False


@dataclass(frozen=True, slots=True)
class Leads:
    """Days that a parcel may take, each as likely, and where they are from: learnt, said or assumed."""

    days: tuple[int, ...]
    origin: str

    @property
    def usual(self) -> int:
        return sorted(self.days)[len(self.days) // 2]

    @property
    def covered(self) -> tuple[int, ...]:
        """The whole weeks on the road of each."""
        return tuple(-(-days // DAYS_PER_WEEK) for days in self.days)

    @property
    def window_days(self) -> int:
        """From so many days ahead a parcel that is ordered today may not come in time."""
        return max(self.days) + DAYS_PER_WEEK

    @property
    def words(self) -> str:
        low, high = min(self.days), max(self.days)
        return f"{low} day{'s' * (low != 1)}" if low == high else f"{low} to {high} days"


def assume_leads(usual: int | None, spread: int | None, whose: str = "") -> Leads:
    """Until own orders tell: a parcel comes early, as usual or late, each as likely.

    `usual` is None where nobody is named to buy from: a week is assumed. A `spread` that nobody said is a quarter.
    """
    if usual is None:
        usual, said = DAYS_PER_WEEK, "assumed, for nobody is named to buy it from"
    else:
        said = f"{whose}, as you wrote" if spread is not None else f"{whose}; how far it differs is assumed"
    give = -(-usual // 4) if spread is None else spread
    return Leads(tuple(sorted({max(usual - give, 0), usual, usual + give})), said)


def taken_by(takes: Sequence[Dated], day: date) -> int:
    """What they come to through a day."""
    return sum(one.quantity for one in takes if one.day <= day)


def _in_turn(takes: Sequence[Dated]) -> Iterator[tuple[Dated, int]]:
    """Each with what it and those before it come to."""
    listed = sorted(takes, key=lambda one: one.day)
    return zip(listed, accumulate(one.quantity for one in listed), strict=True)


def first_short(takes: Sequence[Dated], there: int) -> tuple[Dated, int] | None:
    """The first for which not enough is there, after those before it, and how much it lacks."""
    return next(((one, taken - there) for one, taken in _in_turn(takes) if taken > there), None)


def first_too_early(
    takes: Sequence[Dated], here: int, brings: Sequence[Dated]
) -> tuple[Dated, int, Dated] | None:
    """The first that is before the parcel which would be enough for it, how much it lacks by then, and that parcel."""
    for one, taken in _in_turn(takes):
        lacks = taken - here - taken_by(brings, one.day)
        later = [parcel for parcel in sorted(brings, key=lambda brought: brought.day) if parcel.day > one.day]
        if lacks > 0 and later:
            return one, lacks, later[0]
    return None


def first_down_to(takes: Sequence[Dated], there: int, level: int) -> Dated | None:
    """The first that leaves no more than a level."""
    return next((one for one, taken in _in_turn(takes) if there - taken <= level), None)


def find_spoils(
    parcels: Sequence[Parcel], a_week: Fraction, takes: Sequence[Dated], today: date
) -> tuple[Parcel, ...]:
    """What of each lot is out of date before it is used, at the mean or by plans, the first to go taken first."""
    used, found = 0, []
    if not a_week and not takes:
        return ()
    for parcel in sorted((one for one in parcels if one.last_day), key=lambda one: one.last_day or date.max):
        last_day = parcel.last_day or today
        # It may still be taken on its last day.
        days = max((last_day - today).days + 1, 0)
        taken = max(floor(a_week * days / DAYS_PER_WEEK), taken_by(takes, last_day))
        fits = min(parcel.quantity, max(taken - used, 0))
        used += fits
        if fits < parcel.quantity:
            found.append(replace(parcel, quantity=parcel.quantity - fits))
    return tuple(found)
