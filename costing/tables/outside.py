"""The table of work and parts from outside."""

from django_tables2 import A

from studio.kit.columns import CountColumn, DayColumn, MoneyColumn, TextColumn
from studio.kit.tables import BaseTable


class OutsideTable(BaseTable):
    caption = "Work and parts from outside"

    day = DayColumn(linkify=("costing:outside-edit", [A("pk")]))
    kind = TextColumn("What")
    words = TextColumn("In words", wide=True)
    supplier = TextColumn("By", wide=True)
    carried = CountColumn("Pieces", wide=True)
    basis = TextColumn("Shared", wide=True)
    amount_micro = MoneyColumn("Cost")

    class Meta:
        empty_text = (
            "None yet. What others do for a piece, or a chain bought for it, is part of what it cost."
        )
