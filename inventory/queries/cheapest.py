"""Where one material is ordered cheapest by itself, as home and buying say before anybody asks for more."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from inventory.core.choosing import Ahead, Choice, Terms
from inventory.core.choosing_search import choose_order
from inventory.core.needing import Demand, compute_need
from inventory.core.outlook import Outlook
from inventory.core.reorder import DAYS_PER_WEEK
from inventory.models import Offer

from .offers import pack_of

WEEKS_USUAL = 8
"""For so long an order is to last, where nobody says otherwise."""


def demand_of(material: int, unit: str, outlook: Outlook) -> Demand:
    """What a proposal asks of the forecast: what is here, what a day takes, how long a parcel takes, when to order."""
    return Demand(
        material=material,
        unit=unit,
        here=outlook.counts,
        coming=outlook.position - outlook.counts,
        a_day=outlook.use.a_week / DAYS_PER_WEEK,
        lead_days=outlook.asked.leads.usual,
        point=outlook.point,
    )


def choose_alone(
    offers: Sequence[Offer], terms: Mapping[int, Terms], outlook: Outlook, holding_pct100: int
) -> tuple[Offer, Choice] | None:
    """The cheapest order of one material on the day by which it must be ordered, and the offer that most of it is of;
    None where nothing is used or nobody sends so little."""
    if not offers or outlook.order_by is None:
        return None
    material, today = offers[0].material, outlook.asked.today
    demand = demand_of(material.pk, str(material.unit), outlook)
    days = WEEKS_USUAL * DAYS_PER_WEEK
    need, _ = compute_need(
        replace(demand, wait_days=max((outlook.order_by - today).days, 0)), days, keeps_longest(offers)
    )
    choice = choose_order([need], [pack_of(offer) for offer in offers], terms, Ahead(days, holding_pct100))
    if choice is None or not choice.lines:
        return None
    most = max(choice.lines, key=lambda line: line.quantity).pack.key
    return next(offer for offer in offers if offer.pk == most), choice


def keeps_longest(offers: Iterable[Offer]) -> int | None:
    """Days that the longest good of some offers keeps; None where one keeps for ever."""
    keeps = [offer.keeps for offer in offers]
    return None if None in keeps else max(each for each in keeps if each is not None)
