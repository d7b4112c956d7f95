"""A thousand random years of the demo's powder, bought as the proposal says and bought by the month."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import sqrt
from random import Random

import pytest

from inventory.core.coming import Leads, Parcel
from inventory.core.demand import compute_enough, sum_weeks
from inventory.core.outlook import Asked, Outlook, compute_outlook

# What the weeks of the demo's last half year took, in tenths of a gram, and how long its parcels are on the road.
POWDER = (0, 5600, 7200, *(5600, 5600, 0, 5600, 5600, 5600, 0, 5600, 7200) * 2, 5600, 0, 5600, 5600, 11200)
SILVER = (
    469,
    0,
    609,
    0,
    0,
    475,
    0,
    534,
    467,
    601,
    0,
    0,
    440,
    434,
    524,
    0,
    463,
    0,
    506,
    0,
    472,
    466,
    572,
    0,
    0,
    1078,
)
BRONZE = (*(0,) * 4, 1009, *(0,) * 6, 1127, *(0,) * 5, 1019, *(0,) * 5, 1006, 0, 0)
MOULDS, METALS = Leads((8, 11, 14), "the demo's supplier"), Leads((3, 4, 5), "the demo's other supplier")
CERTAINTY = 9_500
YEARS, WEEKS_A_YEAR = 1_000, 52
PARCEL = 100_000
# The demo's last bill: 35.85 for 10 kg, 11.50 for carriage; a fifth of what lies there is what money costs in a year.
PRICE, CARRIAGE, HOLDING = Fraction(3_585, 10_000_000), Fraction(1_150, 100), Fraction(1, 5)


@dataclass
class Book:
    """What came of the years: orders, those before whose parcel it ran out, what lay there each week together."""

    orders: int = 0
    ran_out: int = 0
    lay: int = 0

    @property
    def cost_a_year(self) -> Fraction:
        """Carriage and what the money costs that lies there; the powder itself costs both ways the same."""
        lay = Fraction(self.lay, YEARS * WEEKS_A_YEAR)
        return CARRIAGE * self.orders / YEARS + HOLDING * PRICE * lay


def follow(weekly: Sequence[int], leads: Leads, amount: int, point: int | None) -> Book:
    """Take random weeks, and look at the end of each: at or below the point `amount` is ordered; without a point, every
    fourth week, what is missing to `amount`. What is not there waits for the parcel."""
    rng, book, stock = Random(7), Book(), amount
    road: list[list[int]] = []
    for week in range(YEARS * WEEKS_A_YEAR):
        for came in [parcel for parcel in road if parcel[0] == week]:
            stock += came[1]
            book.ran_out += came[2]
            road.remove(came)
        stock -= rng.choice(weekly)
        for parcel in road:
            parcel[2] |= stock < 0
        book.lay += max(stock, 0)
        position = stock + sum(parcel[1] for parcel in road)
        if point is None:
            wanted = 0 if week % 4 else amount - position
        else:
            wanted = amount if position <= point else 0
        if wanted:
            book.orders += 1
            # Ordered at the end of a week, it is here after whole weeks on the road.
            road.append([week + 1 + -(-rng.choice(leads.days) // 7), wanted, 0])
    return book


def propose(weekly: Sequence[int], leads: Leads, parcel: int) -> Outlook:
    return compute_outlook(
        Asked(
            today=date(2026, 6, 1),
            weekly=[used * 100 for used in weekly],
            looked_back=26,
            leads=leads,
            certainty_pct100=CERTAINTY,
            parcels=[Parcel("Lot 1", 1)],
            keeps_days=365,
            usual_parcel=parcel * 100,
        )
    )


@pytest.mark.parametrize(
    ("weekly", "leads", "parcel"),
    [(POWDER, MOULDS, PARCEL), (SILVER, METALS, 3_000), (BRONZE, METALS, 4_000)],
)
def test_who_follows_the_proposal_runs_out_no_more_often_than_was_asked(weekly, leads, parcel):
    """Before how many parcels of all it ran out: at most 5 in a hundred, and two deviations of so many drawn."""
    one = propose(weekly, leads, parcel)
    book = follow(weekly, leads, one.amount // 100, one.point // 100)
    asked = 1 - CERTAINTY / 10_000
    assert book.orders > 1_000
    assert book.ran_out / book.orders <= asked + 2 * sqrt(asked * (1 - asked) / book.orders)


def test_what_the_stock_lacks_when_it_is_seen_below_is_needed():
    """Covered for the weeks on the road alone it would run out before one parcel in nine."""
    bare = compute_enough([sum_weeks(POWDER, weeks) for weeks in MOULDS.covered], CERTAINTY)
    book = follow(POWDER, MOULDS, PARCEL, bare)
    assert book.ran_out / book.orders > 0.1


def test_it_costs_less_than_buying_by_the_month_at_the_same_service():
    """Once a month up to a level, the least at which it runs out as seldom in a thousand years; to half a kilogram.

    Carriage of 11.50 each time makes the difference: some 30 a year against 150.
    """
    one = propose(POWDER, MOULDS, PARCEL)
    ours = follow(POWDER, MOULDS, one.amount // 100, one.point // 100)
    monthly = (follow(POWDER, MOULDS, level, None) for level in range(30_000, 60_000, 5_000))
    same = next(book for book in monthly if book.ran_out <= ours.ran_out)
    assert ours.cost_a_year < 35 and same.cost_a_year > 140
