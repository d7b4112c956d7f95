"""Tables of offers and of orders."""

from typing import Any

from django.utils import timezone
from django_tables2 import A

from inventory.models import Offer, Order
from studio.kit.columns import DayColumn, FigureColumn, MoneyColumn, QuantityColumn, TextColumn, WordsColumn
from studio.kit.printing import print_money, print_pack
from studio.kit.tables import BaseTable

_EMPTY = (None, "", 0)


def describe_breaks(offer: Offer) -> str:
    """ "from 4 packs 28.00 each" """
    return ", ".join(
        f"from {one.packs} packs {print_money(one.price_micro)} each" for one in offer.breaks.all()
    )


class PackColumn(QuantityColumn):
    """What is in a pack: kilograms from one on."""

    def print_figure(self, value: int, record: Any) -> str:
        return print_pack(value, self.find_unit(record))


class OfferTable(BaseTable):
    """Rows come from `offers`."""

    caption = "Offers"

    material = TextColumn("Material", accessor="material__name", linkify=("inventory:offer-edit", [A("pk")]))
    supplier = TextColumn("Supplier", accessor="supplier__name")
    quantity = PackColumn("In a pack", unit="material__unit")
    price = MoneyColumn("Price of a pack", accessor="price_micro")
    breaks = WordsColumn("From more packs on", describe_breaks, wide=True)
    keeps = FigureColumn("Good for", accessor="keeps_days", kind="days", empty_values=_EMPTY, wide=True)
    told_on = DayColumn("Price of", wide=True)
    note = TextColumn("Note", wide=True)

    class Meta:
        empty_text = "No offer yet. Write down a pack and its price, and the cheapest order is worked out."


def describe_order(order: Order) -> str:
    """How an order of `orders` stands: what is still to come, or how it ended."""
    known: Any = order
    if order.void:
        return "struck out"
    if not known.is_open:
        return "the rest is not coming" if known.is_dropped else "came"
    over = (timezone.localdate() - order.expected_on).days
    words = "in part here" if known.has_come else "on its way"
    return f"{words}, {over} day{'' if over == 1 else 's'} late" if over > 0 else words


def list_lines(order: Order) -> str:
    return ", ".join(
        f"{print_pack(line.quantity, line.material.unit)} {line.material}" for line in order.lines.all()
    )


class OrderTable(BaseTable):
    """Rows come from `orders`."""

    caption = "Orders"

    order = TextColumn("Order", accessor="pk", linkify=("inventory:order-detail", {"pk": A("pk")}))
    supplier = TextColumn("Supplier", accessor="supplier__name")
    lines = WordsColumn("What", list_lines, wide=True)
    placed_on = DayColumn("Ordered", wide=True)
    expected_on = DayColumn("Expected", wide=True)
    state = WordsColumn("How it stands", describe_order)

    class Meta:
        empty_text = "Nothing was ordered yet. What you write down here is told when it is late."

    def render_order(self, value: int) -> str:
        return str(value)
