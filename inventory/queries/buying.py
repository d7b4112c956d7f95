"""Reads of deliveries, with what each lot cost on the way in, and of what must be ordered again."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from fractions import Fraction
from typing import Any

from django.db.models import Count, F, Min, OuterRef, Prefetch, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from inventory.core.landed import LandedLine, OnTop
from inventory.core.reorder import Reorder, ReorderInput, Use, compute_reorder, compute_use
from inventory.models import BillLine, Delivery, Entry, Holder, Lot, Material, Movement, Studio, Supplier

from .landed import LandedRow, landed_rows
from .ledger import STANDING, standing_entries
from .shelf import lots_here, usable_on


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


TAKEN_BY = (Entry.Kind.POWDER, Entry.Kind.TREE, Entry.Kind.USE)
_DAYS_PER_WEEK = 7
_IN_EVERY_CAST = (Material.Kind.POWDER, Material.Kind.PATTERN)
# Above so many items in the time of a delivery, single demands are as good as a normal spread.
_FEW_ITEMS = 30


@dataclass(frozen=True)
class Outlook:
    """When one material must be ordered again. `good` is what is on hand and usable, `unusable` what is not.

    `reorder` is None while nobody is named to buy it from.
    """

    material: Material
    supplier: Supplier | None
    good: int
    unusable: int
    use_by: date | None
    use: Use
    reorder: Reorder | None


def powder_outlook(studio: Studio, today: date) -> list[Outlook]:
    """When each investment powder must be ordered again. Five queries."""
    return material_outlook(studio, today, (Material.Kind.POWDER,))


def material_outlook(studio: Studio, today: date, kinds: Sequence[str]) -> list[Outlook]:
    """The same for every material of some kinds that is still bought; metal is not asked after here.

    Use is what standing entries took in the last `studio.reorder_weeks` weeks, or in the weeks since the
    material first came when those are fewer.
    """
    materials = list(_materials_on_hand(today, kinds))
    first_day = today - timedelta(days=studio.reorder_weeks * _DAYS_PER_WEEK - 1)
    taken = Movement.objects.filter(
        STANDING,
        entry__kind__in=TAKEN_BY,
        source__lot__material__in=materials,
        # The same day stands on the entry, where an index finds the few of these weeks.
        entry__day__range=(first_day, today),
    ).order_by()
    by_day: dict[int, dict[int, int]] = {}
    for material_id, day, quantity in taken.values_list("source__lot__material", "day").annotate(
        Sum("quantity")
    ):
        weeks = by_day.setdefault(material_id, {})
        week = (today - day).days // _DAYS_PER_WEEK
        weeks[week] = weeks.get(week, 0) + quantity
    per_cast = {
        row["source__lot__material"]: Fraction(row["total"], row["casts"])
        for row in taken.filter(entry__cast__isnull=False, source__lot__material__kind__in=_IN_EVERY_CAST)
        .values("source__lot__material")
        .annotate(total=Sum("quantity"), casts=Count("entry__cast", distinct=True))
    }
    suppliers = Supplier.objects.in_bulk({m.supplier_id or m.last_supplier_id for m in materials} - {None})
    found = []
    for material in materials:
        weeks = by_day.get(material.pk, {})
        use = compute_use([weeks.get(week, 0) for week in range(_weeks_known(material, studio, today))])
        supplier = suppliers.get(material.supplier_id or material.last_supplier_id)
        reorder = _reorder(studio, today, material, supplier, use, per_cast.get(material.pk))
        found.append(
            Outlook(material, supplier, material.good, material.unusable, material.next_use_by, use, reorder)
        )
    return found


def _materials_on_hand(today: date, kinds: Sequence[str]) -> list[Any]:
    """The materials with `good` and `unusable` quantity and `next_use_by`, `first_came` and `last_supplier_id`.

    What is on hand is added up over the lots that hold something, and not over all there ever were. Two queries.
    """
    came = Lot.objects.filter(material=OuterRef("pk"), void=False)
    last_lot = came.filter(supplier__isnull=False).order_by("-received_on", "-pk")
    materials: list[Any] = list(
        Material.objects.filter(archived=False, kind__in=kinds)
        .annotate(
            first_came=Subquery(came.order_by("received_on").values("received_on")[:1]),
            last_supplier_id=Subquery(last_lot.values("supplier")[:1]),
        )
        .order_by("name")
    )
    usable = usable_on(today)
    held = lots_here(material__kind__in=kinds).order_by()
    on_hand = {
        material: sums
        for material, *sums in held.values_list("material").annotate(
            on_hand=Sum("holder__quantity"),
            good=Sum("holder__quantity", filter=usable, default=0),
            next_use_by=Min("use_by", filter=usable),
        )
    }
    for material in materials:
        total, material.good, material.next_use_by = on_hand.get(material.pk, (0, 0, None))
        material.unusable = total - material.good
    return materials


def _weeks_known(material: Any, studio: Studio, today: date) -> int:
    if material.first_came is None:
        return 0
    weeks = (today - material.first_came).days // _DAYS_PER_WEEK + 1
    return max(0, min(studio.reorder_weeks, weeks))


def _reorder(
    studio: Studio, today: date, material: Any, supplier: Supplier | None, use: Use, per_cast: Fraction | None
) -> Reorder | None:
    if supplier is None:
        return None
    lead_mean = use.mean * supplier.lead_time_days / _DAYS_PER_WEEK
    return compute_reorder(
        ReorderInput(
            keeps_days=material.shelf_life_days,
            on_hand=material.good,
            use=use,
            lead_days=supplier.lead_time_days,
            lead_spread_days=supplier.lead_time_spread_days,
            certainty_pct100=studio.reorder_certainty_pct100,
            today=today,
            unit=material.unit,
            per_cast=per_cast,
            one_at_a_time=material.unit == Material.Unit.ITEMS and lead_mean < _FEW_ITEMS,
        )
    )


def last_rates(materials: Iterable[int]) -> dict[int, Fraction]:
    """What a small unit of each material cost the last time that it was bought, without carriage, in millionths.

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
    return {material: Fraction(cost_micro, quantity) for material, quantity, cost_micro in found}
