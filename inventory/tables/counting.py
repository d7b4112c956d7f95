"""Tables of stock counts."""

from typing import Any

from django_tables2 import A

from inventory.models import CountLine, StockCount
from inventory.queries.ledger import name_lot
from studio.kit.columns import CountColumn, DayColumn, QuantityColumn, TextColumn
from studio.kit.tables import BaseTable


class CountTable(BaseTable):
    """Rows come from `stock_counts`."""

    caption = "Stock counts"

    day = DayColumn(linkify=("inventory:count-detail", [A("pk")]))
    kept_in = TextColumn("Kept in", empty_values=(), wide=True)
    lots = CountColumn("Lots")
    differing = CountColumn("Differed")
    recorded_by = TextColumn("By", wide=True)

    class Meta:
        empty_text = "The stock was not counted yet."

    def render_kept_in(self, record: StockCount) -> str:
        return record.kept_in or "everywhere"


_UNIT = "lot__material__unit"


class CountLineTable(BaseTable):
    """Rows come from `lines_of`."""

    caption = "What was found"

    lot = TextColumn("Lot", linkify=("inventory:lot-detail", [A("lot_id")]), orderable=False)
    book_quantity = QuantityColumn("Book had", unit=_UNIT, wide=True)
    counted = QuantityColumn("Found", unit=_UNIT)
    difference = QuantityColumn("Difference", unit=_UNIT, orderable=False)
    reason = TextColumn("Why", accessor="get_reason_display", orderable=False, wide=True)
    stands = TextColumn("Entry", accessor="pk", orderable=False, wide=True)

    class Meta:
        empty_text = "No lot was counted."

    def render_lot(self, record: CountLine) -> str:
        return name_lot(record.lot)

    def value_lot(self, record: CountLine) -> str:
        return name_lot(record.lot)

    def render_stands(self, record: Any) -> str:
        return self.value_stands(record)

    def value_stands(self, record: Any) -> str:
        if record.entry is None:
            return "agreed"
        return "taken back" if record.is_back else f"line {record.entry.pk} in the book"
