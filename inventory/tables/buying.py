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
        "From", accessor="supplier__name", linkify=("inventory:delivery-detail", {"pk": A("pk")})
    )
    received = DayColumn("Came on", accessor="received_on")
    reference = TextColumn("Reference", wide=True)
    lines = CountColumn("Lines", accessor="line_count", wide=True)
    goods = MoneyColumn("Prices", accessor="goods_micro", wide=True)
    on_top = MoneyColumn("On top", accessor="on_top_micro", wide=True)
    landed = MoneyColumn("Landed", accessor="landed_micro")

    caption = "Deliveries"
    first_step = ("Enter a delivery", "inventory:delivery-new")

    class Meta:
        empty_text = "No deliveries yet. Enter the first: what came, at what price, and what carriage cost."
        row_attrs = {"class": lambda record: "turned-back" if record.void else ""}

    def render_supplier(self, value: str, record: Delivery) -> str:
        return f"{value}, reversed" if record.void else value


class ReceivedTable(BaseTable):
    """The lots of a delivery, with what each cost."""

    lot = TextColumn("Lot", accessor="lot__pk", linkify=("inventory:lot-detail", {"pk": A("lot__pk")}))
    material = TextColumn("Material", accessor="lot__material__name")
    quantity = QuantityColumn("Came", accessor="line__quantity", unit="line__unit", wide=True)
    price = MoneyColumn("Price", accessor="line__price_micro", wide=True)
    share = MoneyColumn("Share on top", accessor="line__share_micro", wide=True)
    late = MoneyColumn("Later bills", accessor="line__late_micro", empty_values=(None, 0), wide=True)
    landed = MoneyColumn("Landed", accessor="line__landed_micro")
    rate = TextColumn(
        "That is", accessor="line__rate_text", orderable=False, attrs={"cell": {"class": "num wide"}}
    )

    caption = "What came"

    def render_lot(self, record: ReceivedLot) -> str:
        return f"Lot{SPACE}{record.lot.pk}"


class PreviewTable(BaseTable):
    """What each line of a delivery will have cost, while it is still being written."""

    line = TextColumn("Line", orderable=False)
    material = TextColumn("Material", orderable=False)
    quantity = QuantityColumn("Comes", orderable=False)
    price = MoneyColumn("Price", accessor="price_micro", wide=True, orderable=False)
    share = MoneyColumn("Share on top", accessor="share_micro", wide=True, orderable=False)
    landed = MoneyColumn("Landed", accessor="landed_micro", orderable=False)
    rate = TextColumn("That is", accessor="rate_text", orderable=False, attrs={"cell": {"class": "num wide"}})

    caption = "Line by line"

    def render_line(self, value: Any) -> str:
        return f"Line{SPACE}{value}"
