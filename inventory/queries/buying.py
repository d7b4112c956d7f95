"""Reads of deliveries, with what each lot cost on the way in."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from django.db.models import Count, F, OuterRef, Prefetch, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from inventory.core.landed import LandedLine, OnTop
from inventory.models import BillLine, Delivery, Entry, Holder, Lot, Material, Movement

from .landed import LandedRow, landed_rows
from .ledger import STANDING, standing_entries


def deliveries() -> QuerySet[Delivery]:
    """Every delivery, newest first, with the number of its lots, what they are, and the prices together as
    `goods_micro`; `later_micro` is what later bills made of it."""
    # Added up for each delivery that is shown, not for all before the newest are chosen.
    goods = (
        Movement.objects.filter(entry=OuterRef("entry"), what=Movement.What.GOODS).order_by().values("entry")
    )
    bills = BillLine.objects.filter(STANDING, lot__delivery=OuterRef("pk")).order_by().values("lot__delivery")
    later = bills.annotate(total=Sum(F("price_micro") + F("charges_micro"))).values("total")
    lots = Prefetch("lots", Lot.objects.filter(void=False).select_related("material").order_by("pk"))
    return (
        Delivery.objects.select_related("supplier", "entry")
        .prefetch_related(lots)
        .annotate(
            line_count=Coalesce(Subquery(goods.annotate(lines=Count("pk")).values("lines")), 0),
            goods_micro=Coalesce(Subquery(goods.annotate(total=Sum("cost_micro")).values("total")), 0),
            later_micro=Coalesce(Subquery(later), 0),
        )
        .annotate(
            landed_micro=F("goods_micro")
            + F("carriage_micro")
            + F("duty_micro")
            + F("tax_micro")
            + F("later_micro"),
            on_top_micro=F("carriage_micro") + F("duty_micro") + F("tax_micro"),
        )
        .order_by("-received_on", "-pk")
    )


def latest_deliveries(most: int) -> QuerySet[Delivery]:
    """The newest of them: chosen first, so that only their own lines are added up."""
    newest = Delivery.objects.order_by("-received_on", "-pk").values_list("pk", flat=True)[:most]
    return deliveries().filter(pk__in=list(newest))


def materials_to_choose() -> list[Material]:
    """What can be bought or entered, by kind and name."""
    return list(Material.objects.filter(archived=False).select_related("alloy"))


@dataclass
class ReceivedLot:
    """A lot of a delivery and the sums it came with."""

    lot: Lot
    line: LandedLine = field(default_factory=lambda: LandedLine(0, "mass", 0))


def on_top_of(delivery: Delivery) -> OnTop:
    return OnTop(
        delivery.carriage_micro,
        delivery.duty_micro,
        delivery.tax_micro,
        delivery.spread_by == Delivery.SpreadBy.MASS,
    )


def received_lots(delivery: Delivery) -> list[ReceivedLot]:
    """The lots of a delivery in the order they were written, with what landed them. Three queries."""
    by_mass = delivery.spread_by == Delivery.SpreadBy.MASS
    rows = landed_rows(delivery)
    weights = [row.quantity if by_mass else row.first_price_micro for row in rows]
    return [
        ReceivedLot(row.lot, _landed_line(row, weight, sum(weights)))
        for row, weight in zip(rows, weights, strict=True)
    ]


def _landed_line(row: LandedRow, weight: int, weights: int) -> LandedLine:
    return LandedLine(
        quantity=row.quantity,
        unit=row.lot.material.unit,
        price_micro=row.first_price_micro,
        share_micro=row.first_charges_micro,
        weight=weight,
        weights=weights,
        late_micro=row.more_price_micro + row.more_charges_micro,
        late_used_micro=row.used_micro,
    )


def late_bills(delivery: Delivery) -> "QuerySet[Any]":
    """The standing bills that came after a delivery, newest first: `amount_micro`, of which `used_micro` was late.

    A bill that was posted before bills named their delivery is found by the lots it went on.
    """
    bill = Entry.Kind.LATE_BILL
    on_its_lots = BillLine.objects.filter(lot__delivery=delivery).values("entry")
    into_late, out_of_late = (
        Sum("movements__cost_micro", filter=Q(**{f"movements__{side}__place": Holder.Place.LATE}), default=0)
        for side in ("target", "source")
    )
    lines = BillLine.objects.filter(entry=OuterRef("pk")).order_by().values("entry")
    total = lines.annotate(total=Sum(F("price_micro") + F("charges_micro"))).values("total")
    return (
        standing_entries()
        .filter(Q(bill_for=delivery) | Q(pk__in=on_its_lots), kind=bill)
        .annotate(
            amount_micro=Coalesce(Subquery(total), 0),
            used_micro=into_late - out_of_late,
        )
        .order_by("-day", "-pk")
    )


@dataclass(frozen=True)
class LastBought:
    """How much of a material came the last time that it was paid for, and its price without carriage, in millionths."""

    quantity: int
    price_micro: int

    @property
    def rate(self) -> Fraction:
        return Fraction(self.price_micro, self.quantity)


def last_rates(materials: Iterable[int]) -> dict[int, Fraction]:
    """What a small unit of each material cost the last time that it was bought, without carriage, in millionths."""
    return {material: bought.rate for material, bought in last_bought(materials).items()}


def last_bought(materials: Iterable[int]) -> dict[int, LastBought]:
    """The last delivery of each that was paid for.

    One query, which follows the lots of a material from the newest back to the first that was paid for.
    """
    paid = Movement.objects.filter(
        STANDING,
        entry__kind=Entry.Kind.DELIVERY,
        what=Movement.What.GOODS,
        target__lot__material=OuterRef("pk"),
        # `void=False` becomes NOT void, for which no index is followed.
        target__lot__void__in=[False],
        quantity__gt=0,
        cost_micro__gt=0,
    ).order_by("-target__lot__received_on", "-target__lot")
    latest = (
        Material.objects.filter(pk__in=list(materials))
        .order_by()
        .values_list(Subquery(paid.values("pk")[:1]))
    )
    rows = Movement.objects.filter(pk__in=latest)
    found = rows.values_list("target__lot__material", "quantity", "cost_micro")
    return {material: LastBought(quantity, cost_micro) for material, quantity, cost_micro in found}
