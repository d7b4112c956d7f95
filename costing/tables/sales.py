"""Tables of sales, of what is out to be sold, and of bills."""

from typing import Any

from django_tables2 import A

from studio.kit.columns import CountColumn, DayColumn, MoneyColumn, TextColumn, WordsColumn
from studio.kit.tables import BaseTable


def tell_owed(sale: Any) -> str:
    if not sale.is_owed:
        return ""
    return "owed" if sale.paid_on is None else "paid over"


class SaleTable(BaseTable):
    """Rows come from `sales`."""

    caption = "Sales"

    sale = TextColumn("Sale", accessor="pk", linkify=("costing:sale", [A("pk")]))
    day = DayColumn("Sold")
    channel = TextColumn("Through", accessor="channel__name")
    buyer = TextColumn("Buyer", default="", wide=True)
    count = CountColumn("Pieces", wide=True)
    paid = MoneyColumn("Paid")
    refunded = MoneyColumn("Paid back", wide=True)
    left_now = MoneyColumn("Left after tax and fees", wide=True)
    owed_words = WordsColumn("Owed", tell_owed, wide=True)

    class Meta:
        empty_text = "Nothing was sold yet."


class OutingTable(BaseTable):
    """Rows come from `outings`."""

    caption = "Out to be sold"

    name = TextColumn("Where", linkify=("costing:outing", [A("pk")]))
    day = DayColumn("Since")
    channel = TextColumn("Through", accessor="channel__name", wide=True)
    went = CountColumn("Went")
    out = CountColumn("Still out")

    class Meta:
        empty_text = "Nothing is out."


class BillTable(BaseTable):
    """Rows come from `bills`."""

    caption = "Bills"

    bill = WordsColumn("Bill", str)
    sale = TextColumn("Sale", accessor="sale_id", linkify=("costing:sale", [A("sale_id")]), wide=True)
    day = DayColumn("Date", wide=True)
    buyer = TextColumn("To")
    total = MoneyColumn("Total")
    struck_out_on = DayColumn("Struck out", wide=True)

    class Meta:
        empty_text = "No bill yet. One is written from the page of a sale."
