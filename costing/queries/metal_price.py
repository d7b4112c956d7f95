"""What metals cost on which days: the lists, and what each alloy costs to buy again by the newest of them."""

from collections.abc import Collection
from datetime import date

from django.db.models import OuterRef, QuerySet, Subquery

from costing.core.metal_price import AlloyPrice, DatedPrice, Premium, choose_alloy_price, compute_alloy_price
from costing.models import AlloyPremium, FinePrice, MetalPrice
from inventory.core.refining import Price
from inventory.models import Alloy
from inventory.queries.buy_again import tell_prices_again
from inventory.queries.refining import tell_prices
from inventory.queries.setup import in_use


def latest_metal_prices() -> dict[int, MetalPrice]:
    """The newest price of each alloy, by alloy id."""
    newest = MetalPrice.objects.filter(alloy=OuterRef("alloy")).order_by("-day")
    prices = MetalPrice.objects.filter(pk=Subquery(newest.values("pk")[:1])).select_related("alloy")
    return {price.alloy_id: price for price in prices}


def latest_fine_prices() -> dict[str, FinePrice]:
    """The newest price of each pure metal, by metal."""
    newest = FinePrice.objects.filter(metal=OuterRef("metal")).order_by("-day")
    return {price.metal: price for price in FinePrice.objects.filter(pk=Subquery(newest.values("pk")[:1]))}


@tell_prices
def known_price(metal: str) -> tuple[Price, date] | None:
    """The newest price of a pure metal and its day."""
    row = FinePrice.objects.filter(metal=metal).order_by("-day").first()
    return ((row.price_micro, row.per_unit), row.day) if row else None


@tell_prices_again
def alloy_prices(alloys: Collection[Alloy]) -> dict[int, AlloyPrice]:
    """What each of these alloys costs to buy again, by alloy id; without those that nobody knows a price of.

    Three queries at most.
    """
    own, fine = latest_metal_prices(), latest_fine_prices()
    rows = AlloyPremium.objects.filter(alloy__in=alloys) if fine else ()
    premiums = {row.alloy_id: Premium(row.share_pct100, row.micro_per_kg) for row in rows}
    found = {}
    for alloy in alloys:
        by_fine = None
        if alloy.metal in fine:
            premium = premiums.get(alloy.pk, Premium())
            by_fine = compute_alloy_price(dated(fine[alloy.metal]), alloy.metal, alloy.fineness, premium)
        price = choose_alloy_price(dated(own[alloy.pk]) if alloy.pk in own else None, by_fine)
        if price is not None:
            found[alloy.pk] = price
    return found


def dated(row: FinePrice | MetalPrice) -> DatedPrice:
    return DatedPrice(row.price_micro, row.per_unit, row.day)


def metal_prices() -> QuerySet[MetalPrice]:
    return MetalPrice.objects.select_related("alloy").order_by("-day", "alloy__name")


def fine_prices() -> QuerySet[FinePrice]:
    return FinePrice.objects.order_by("-day", "metal")


def premiums() -> QuerySet[AlloyPremium]:
    return AlloyPremium.objects.select_related("alloy").order_by("alloy__name")


def days_with_price(metal: str, first: date, last: date) -> dict[date, DatedPrice]:
    """The prices of a pure metal in a time, by day."""
    return {row.day: dated(row) for row in FinePrice.objects.filter(metal=metal, day__range=(first, last))}


def precious_alloys(now: int | None = None) -> QuerySet[Alloy]:
    """Alloys in use that hold a precious metal; and the one with the key `now`."""
    return in_use(Alloy, now).exclude(metal=Alloy.Metal.BASE)
