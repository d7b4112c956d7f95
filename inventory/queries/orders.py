"""Reads of orders: what was ordered, what came of it, what is still to come and when, and how long parcels took."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import cached_property

from django.db.models import Exists, F, Min, OuterRef, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce
from django.utils import timezone

from inventory.core.coming import Leads, assume_leads
from inventory.models import Delivery, Material, Movement, Order, OrderLine, Supplier
from studio.kit.models import only_one
from studio.kit.units import round_half_up

from .ledger import STANDING

#: So many own orders tell how long a parcel takes, the newest of them.
ENOUGH_LEADS, LATEST_LEADS = 4, 12

_GOODS = {"what": Movement.What.GOODS, "entry__kind": "delivery"}
#: The material of a line that a movement is of: metal whose fineness was guessed is kept as mixed metal.
_BOUGHT_AS = Coalesce("target__lot__bought_as", "target__lot__material")


@dataclass(frozen=True)
class LineNow:
    """A line of an order and what came of it by deliveries that stand; money is millionths, without carriage."""

    line: OrderLine
    came: int
    came_price_micro: int

    @property
    def left(self) -> int:
        """What is still to come."""
        return max(self.line.quantity - self.line.dropped - self.came, 0)

    @property
    def over(self) -> int:
        """What came more than was ordered."""
        return max(self.came - self.line.quantity, 0)

    def price_micro_of(self, quantity: int) -> int | None:
        """What so much of it costs at the price that was ordered at."""
        if self.line.price_micro is None:
            return None
        return round_half_up(Fraction(self.line.price_micro * quantity, self.line.quantity))

    @property
    def dearer_micro(self) -> int | None:
        """What was paid for what came, more than was ordered at; below zero where it was less."""
        at_order = self.price_micro_of(self.came)
        return None if at_order is None or not self.came else self.came_price_micro - at_order


@dataclass(frozen=True)
class OrderNow:
    """An order as it stands; `besides` came with its deliveries and had not been ordered: (material, quantity)."""

    order: Order
    lines: tuple[LineNow, ...]
    besides: tuple[tuple[Material, int], ...]
    deliveries: tuple[Delivery, ...]

    @property
    def is_open(self) -> bool:
        return not self.order.void and any(one.left for one in self.lines)

    @property
    def has_come(self) -> bool:
        return bool(self.deliveries)

    @property
    def is_dropped(self) -> bool:
        return any(one.line.dropped for one in self.lines)

    @cached_property
    def seen(self) -> str:
        """The same as long as nothing more of it came and nothing was taken back."""
        return "-".join(str(one.entry_id) for one in self.deliveries)[-40:] or "none"

    def late_days(self, today: date) -> int:
        return max((today - self.order.expected_on).days, 0) if self.is_open else 0

    @property
    def carriage_came_micro(self) -> int:
        """What was paid to bring what came so far, as its deliveries say; bills that came later are not in it."""
        return sum(one.carriage_micro for one in self.deliveries)

    @property
    def price_micro(self) -> int | None:
        """The price of all that was ordered; None where one is not known."""
        prices = [one.line.price_micro for one in self.lines]
        return None if None in prices else sum(price for price in prices if price is not None)


def _came() -> "QuerySet[Movement]":
    """What came of one line of an order."""
    lines = Movement.objects.filter(STANDING, **_GOODS, entry__delivery__order=OuterRef("order"))
    return lines.annotate(bought_as=_BOUGHT_AS).filter(bought_as=OuterRef("material")).order_by()


def lines_open() -> "QuerySet[OrderLine]":
    """Lines of which something is still to come, with what came as `came`."""
    came = _came().values("entry__delivery__order").annotate(came=Sum("quantity")).values("came")
    return OrderLine.objects.annotate(came=Coalesce(Subquery(came), 0)).filter(
        order__void=False, quantity__gt=F("dropped") + F("came")
    )


def orders() -> "QuerySet[Order]":
    """Every order, newest first, with `is_open`, `has_come` and `is_dropped`."""
    mine = OuterRef("pk")
    return (
        Order.objects.select_related("supplier")
        .prefetch_related("lines__material")
        .annotate(
            is_open=Exists(lines_open().filter(order=mine)),
            has_come=Exists(Delivery.objects.filter(order=mine, void=False)),
            is_dropped=Exists(OrderLine.objects.filter(order=mine, dropped__gt=0)),
        )
    )


def find_order(pk: int) -> Order | None:
    return only_one(Order.objects.select_related("supplier").filter(pk=pk))


def read_orders(rows: Iterable[Order]) -> list[OrderNow]:
    """How some orders stand. Three queries."""
    found = list(rows)
    lines = OrderLine.objects.filter(order__in=found).select_related("material__alloy")
    moved = (
        Movement.objects.filter(STANDING, **_GOODS, entry__delivery__order__in=found)
        .annotate(bought_as=_BOUGHT_AS)
        .order_by("bought_as")
        .values_list("entry__delivery__order", "bought_as")
        .annotate(Sum("quantity"), Sum("cost_micro"))
    )
    came = {(order, material): (quantity, paid) for order, material, quantity, paid in moved}
    deliveries = Delivery.objects.filter(order__in=found, void=False).order_by("received_on", "pk")
    return _put_together(found, list(lines), came, list(deliveries))


def _put_together(
    found: Sequence[Order],
    lines: Sequence[OrderLine],
    came: dict[tuple[int, int], tuple[int, int]],
    deliveries: Sequence[Delivery],
) -> list[OrderNow]:
    ordered = {(line.order_id, line.material_id) for line in lines}
    others = Material.objects.in_bulk({material for _, material in came.keys() - ordered})
    return [
        OrderNow(
            order,
            tuple(
                LineNow(line, *came.get((order.pk, line.material_id), (0, 0)))
                for line in lines
                if line.order_id == order.pk
            ),
            tuple(
                (others[key[1]], came[key][0]) for key in came if key[0] == order.pk and key not in ordered
            ),
            tuple(one for one in deliveries if one.order_id == order.pk),
        )
        for order in found
    ]


def read_order(order: Order) -> OrderNow:
    return read_orders([order])[0]


def open_orders() -> list[OrderNow]:
    """What is still to come, soonest first."""
    still = Order.objects.filter(Exists(lines_open().filter(order=OuterRef("pk"))))
    return read_orders(still.select_related("supplier").order_by("expected_on", "pk"))


def late(today: date | None = None) -> list[OrderNow]:
    """Open orders whose day is past, the longest first."""
    day = today or timezone.localdate()
    return [one for one in open_orders() if one.late_days(day)]


def expected() -> list[tuple[Material, date, int]]:
    """(material, the day it is expected on, how much is still to come) of every open line, soonest first.

    The day of a late one is past. One query.
    """
    rows = lines_open().select_related("material", "order").order_by("order__expected_on", "pk")
    return [
        (line.material, line.order.expected_on, line.quantity - line.dropped - line.came)  # type: ignore[attr-defined]  # annotated
        for line in rows
    ]


def lead_days() -> dict[int, list[int]]:
    """How many days each past order took until its first parcel came, oldest first, by supplier. One query."""
    came = Delivery.objects.filter(order=OuterRef("pk"), void=False).order_by().values("order")
    first = came.annotate(first=Min("received_on")).values("first")
    rows = Order.objects.annotate(came_on=Subquery(first)).order_by("placed_on", "pk")
    found: dict[int, list[int]] = {}
    for supplier, placed_on, day in rows.values_list("supplier", "placed_on", "came_on"):
        if day is not None:
            found.setdefault(supplier, []).append((day - placed_on).days)
    return found


def leads_of(supplier: Supplier | None, learnt: Mapping[int, Sequence[int]]) -> Leads:
    """How long a parcel takes: as own orders did, where there are enough, else by what was said of the supplier."""
    if supplier is None:
        return assume_leads(None, None)
    own = learnt.get(supplier.pk, ())[-LATEST_LEADS:]
    if len(own) >= ENOUGH_LEADS:
        return Leads(tuple(sorted(own)), f"{supplier}: your last {len(own)} orders")
    return assume_leads(supplier.lead_time_days, supplier.lead_time_spread_days, str(supplier))


def latest_order() -> Order | None:
    return Order.objects.select_related("supplier").order_by("-pk").first()
