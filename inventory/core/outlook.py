"""When a material must be ordered again, how much of it, and why: from use, plans, parcels on the road and lots that
go out of date.

Quantities are in the material's small unit. Certainty is hundredths of a per cent.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from math import ceil, floor

from studio.kit.printing import print_day, print_quantity, print_roughly
from studio.kit.units import round_half_up

from .coming import Dated, Leads, Parcel, find_spoils, first_down_to, first_short, first_too_early, taken_by
from .demand import compute_enough, sum_weeks
from .learning_use import UseAhead, learn_use
from .reorder import DAYS_PER_WEEK, FARTHEST_DAYS, round_least_up, round_most_down, round_point_up


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is known of one material on a day.

    `weekly` is what each week took, oldest first, of which `looked_back` count; `takes` are open plans and quotes,
    `brings` what is on the road. `per_cast` is its mean use in a cast, `keeps_days` how long a new parcel is good and
    `usual_parcel` what is bought at a time, no
    part of it where `whole_parcels`.
    """

    today: date
    weekly: Sequence[int]
    looked_back: int
    leads: Leads
    certainty_pct100: int
    unit: str = "mass"
    guess: int | None = None
    parcels: Sequence[Parcel] = ()
    takes: Sequence[Dated] = ()
    brings: Sequence[Dated] = ()
    per_cast: Fraction | None = None
    keeps_days: int | None = None
    usual_parcel: int | None = None
    whole_parcels: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What follows. `counts` is what is here and will be used in time, `spoils` the lots, those on the road among them,
    of which some will not be.

    `lumps` covers the weeks of a delivery with the certainty asked; `point` is that or what plans take in that time,
    where it is more: at or below it, counting what is on the road, it is time to order. `order_by` is None where no
    order is in sight. `amount` lies from `least`, with which the point is here again when it comes, to `most`,
    which is used before it is stale; None where it keeps.
    """

    asked: Asked
    use: UseAhead
    good: int
    spoils: tuple[Parcel, ...]
    coming: int
    planned: int
    lumps: int
    point: int
    order_by: date | None
    because: str
    least: int
    most: int | None
    amount: int
    casts_left: int | None

    @property
    def counts(self) -> int:
        return self.good - sum(parcel.quantity for parcel in self.spoils if not parcel.is_on_road)

    @property
    def position(self) -> int:
        """What counts, with what is on the road and will be used in time."""
        return self.good + self.coming - sum(parcel.quantity for parcel in self.spoils)

    @property
    def last_good_day(self) -> date | None:
        """After it nothing that is here is good any more; None where some of it keeps, or nothing is here."""
        days = [parcel.last_day for parcel in self.asked.parcels if parcel.quantity]
        return max((day for day in days if day), default=None) if all(days) else None

    @property
    def too_early(self) -> str:
        """That a plan is before the parcel that it waits for, as a sentence; "" where none is."""
        found = first_too_early(self.asked.takes, self.counts, self.asked.brings)
        if found is None:
            return ""
        plan, lacks, parcel = found
        lacks_so_much = print_quantity(lacks, self.asked.unit)
        what = f"{plan.what} lacks {lacks_so_much} on {print_day(plan.day, with_year=True)}"
        return f"{what[:1].upper()}{what[1:]}: what is on the road comes on {print_day(parcel.day, with_year=True)}."

    @property
    def is_due(self) -> bool:
        return self.order_by is not None and self.order_by <= self.asked.today


def compute_outlook(asked: Asked) -> Outlook:
    """The day to order by, how much, and why."""
    leads, unit = asked.leads, asked.unit
    use = learn_use(asked.weekly, asked.looked_back, asked.guess, unit)
    good = sum(parcel.quantity for parcel in asked.parcels)
    spoils = find_spoils([*asked.parcels, *_on_road(asked)], use.a_week, asked.takes, asked.today)
    coming = sum(parcel.quantity for parcel in asked.brings)
    position = good + coming - sum(parcel.quantity for parcel in spoils)
    lumps = round_point_up(compute_lumps(use.draws, leads, asked.certainty_pct100), unit)
    planned = taken_by(asked.takes, asked.today + timedelta(days=leads.window_days))
    point = max(lumps, round_point_up(planned, unit))
    counts = good - sum(parcel.quantity for parcel in spoils if not parcel.is_on_road)
    found = [
        *_find_days(asked, use, position, lumps, point),
        *_find_last_days(asked, use, spoils, position, lumps),
    ]
    order_by, because = min(found, key=lambda one: one[0], default=(None, ""))
    least, most, amount = _how_much(asked, use, position, point)
    return Outlook(
        asked=asked,
        use=use,
        good=good,
        spoils=spoils,
        coming=coming,
        planned=planned,
        lumps=lumps,
        point=point,
        order_by=order_by,
        because=because,
        least=least,
        most=most,
        amount=amount if order_by else 0,
        casts_left=floor(counts / asked.per_cast) if asked.per_cast else None,
    )


def _on_road(asked: Asked) -> list[Parcel]:
    """What is on the road, as the lots that it will be."""
    keeps = asked.keeps_days
    return [
        Parcel(
            "what is on the road",
            one.quantity,
            None if keeps is None else one.day + timedelta(days=keeps),
            is_on_road=True,
        )
        for one in asked.brings
    ]


def compute_lumps(draws: Sequence[int], leads: Leads, certainty_pct100: int, step: int = 0) -> int:
    """What is taken past the point and until a parcel comes, at most with this certainty; 0 where none is used."""
    if not any(draws):
        return 0
    spreads = {weeks: sum_weeks(draws, weeks, step, from_level=True) for weeks in leads.covered}
    return compute_enough([spreads[weeks] for weeks in leads.covered], certainty_pct100)


def _find_last_days(
    asked: Asked, use: UseAhead, spoils: Sequence[Parcel], position: int, lumps: int
) -> Iterator[tuple[date, str]]:
    """The day to order by what follows on lots that go out of date and leave too little behind."""
    for last_day in sorted(parcel.last_day for parcel in spoils if parcel.last_day):
        days = (last_day - asked.today).days + 1
        used = max(floor(use.a_week * days / DAYS_PER_WEEK), taken_by(asked.takes, last_day))
        if use.is_any and position - used <= lumps:
            day = asked.today + timedelta(days=max(days - max(asked.leads.days), 0))
            good_until = print_day(last_day, with_year=True)
            yield day, f"what is left is good until {good_until}, {asked.leads.words} on the road"


def _find_days(
    asked: Asked, use: UseAhead, position: int, lumps: int, point: int
) -> Iterator[tuple[date, str]]:
    """The days by which use and plans ask for an order, and what asks."""
    today, road = asked.today, f"{asked.leads.words} on the road"
    short = first_short(asked.takes, position)
    if short is not None:
        plan, lacks = short
        day = max(today, plan.day - timedelta(days=asked.leads.window_days))
        yield day, f"{plan.what} lacks {print_quantity(lacks, asked.unit)}, {road}"
    if position <= point and point:
        left, most = (print_roughly(one, asked.unit) for one in (position, point))
        yield today, f"{left} left, and up to {most} may be taken before a parcel comes, {road}"
    elif use.a_week:
        days = floor((position - lumps) * DAYS_PER_WEEK / use.a_week)
        if days <= FARTHEST_DAYS:
            a_week = print_roughly(use.a_week, asked.unit)
            yield today + timedelta(days=days), f"about {a_week} a week, {road}"
    after = first_down_to(asked.takes, position, lumps)
    if after is not None:
        yield max(today, after.day), f"{after.what} takes it down to where a parcel must be on the road"


def _how_much(asked: Asked, use: UseAhead, position: int, point: int) -> tuple[int, int | None, int]:
    """The least and the most to order, and what is proposed: as many usual parcels as reach the least."""
    taken = _used_in(use, asked.leads.usual)
    at_order = min(position, point)
    still = max(at_order - taken, 0)
    least = round_least_up(max(point - at_order + taken, 0), asked.unit)
    most = None
    if asked.keeps_days and use.a_week:
        used = _used_in(use, asked.keeps_days)
        used = max(used, taken_by(asked.takes, asked.today + timedelta(days=asked.keeps_days)))
        most = max(round_most_down(used - still, asked.unit), 0)
    parcel = asked.usual_parcel
    amount = ceil(least / parcel) * parcel if parcel else least
    amount = amount if most is None or asked.whole_parcels else min(amount, most)
    # A plan that lacks some is served, whatever goes stale of it.
    short = first_short(asked.takes, position)
    return least, most, max(amount, round_least_up(short[1], asked.unit)) if short else amount


def _used_in(use: UseAhead, days: int) -> int:
    return round_half_up(use.a_week * days / DAYS_PER_WEEK)
