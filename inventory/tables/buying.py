"""Tables of deliveries and of what came in them."""

from typing import Any

from django_tables2 import A

from inventory.models import Delivery
from inventory.queries.buying import ReceivedLot
from studio.kit.columns import CountColumn, DayColumn, MoneyColumn, QuantityColumn, TextColumn
from studio.kit.printing import SPACE
from studio.kit.tables import BaseTable


class DeliveryTable(BaseTable):
    """Deliveries, one a row."""

    supplier = TextColumn(
        accessor="supplier__name", verbose_name="From", linkify=("inventory:delivery-detail", {"pk": A("pk")})
    )
    received = DayColumn(accessor="received_on", verbose_name="Came on")
    reference = TextColumn(verbose_name="Reference", wide=True)
    lines = CountColumn(accessor="line_count", verbose_name="Lines", wide=True)
    goods = MoneyColumn(accessor="goods_micro", verbose_name="Prices", wide=True)
    on_top = MoneyColumn(accessor="on_top_micro", verbose_name="On top", wide=True)
    landed = MoneyColumn(accessor="landed_micro", verbose_name="Landed")

    caption = "Deliveries"
    first_step = ("Enter a delivery", "inventory:delivery-new")

    class Meta:
        empty_text = "No deliveries yet. Enter the first: what came, at what price, and what carriage cost."
        row_attrs = {"class": lambda record: "turned-back" if record.void else ""}

    def render_supplier(self, value: str, record: Delivery) -> str:
        return f"{value}, reversed" if record.void else value


class ReceivedTable(BaseTable):
    """The lots of a delivery, with what each cost."""

    lot = TextColumn(
        accessor="lot__pk", verbose_name="Lot", linkify=("inventory:lot-detail", {"pk": A("lot__pk")})
    )
    material = TextColumn(accessor="lot__material__name", verbose_name="Material")
    quantity = QuantityColumn(accessor="line__quantity", unit="line__unit", verbose_name="Came", wide=True)
    price = MoneyColumn(accessor="line__price_micro", verbose_name="Price", wide=True)
    share = MoneyColumn(accessor="line__share_micro", verbose_name="Share on top", wide=True)
    late = MoneyColumn(
        accessor="line__late_micro", verbose_name="Later bills", empty_values=(None, 0), wide=True
    )
    landed = MoneyColumn(accessor="line__landed_micro", verbose_name="Landed")
    rate = TextColumn(
        accessor="line__rate_text",
        verbose_name="That is",
        orderable=False,
        attrs={"cell": {"class": "num wide"}},
    )

    caption = "What came"

    def render_lot(self, record: ReceivedLot) -> str:
        return f"Lot{SPACE}{record.lot.pk}"


class PreviewTable(BaseTable):
    """What each line of a delivery will have cost, while it is still being written."""

    line = TextColumn(verbose_name="Line", orderable=False)
    material = TextColumn(verbose_name="Material", orderable=False)
    quantity = QuantityColumn(verbose_name="Comes", orderable=False)
    price = MoneyColumn(accessor="price_micro", verbose_name="Price", wide=True, orderable=False)
    share = MoneyColumn(accessor="share_micro", verbose_name="Share on top", wide=True, orderable=False)
    landed = MoneyColumn(accessor="landed_micro", verbose_name="Landed", orderable=False)
    rate = TextColumn(
        accessor="rate_text", verbose_name="That is", orderable=False, attrs={"cell": {"class": "num wide"}}
    )

    caption = "Line by line"

    def render_line(self, value: Any) -> str:
        return f"Line{SPACE}{value}"
