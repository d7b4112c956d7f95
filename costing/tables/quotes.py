"""The table of quotes."""

from django_tables2 import A

from costing.models import Quote
from studio.kit.columns import DayColumn, TextColumn, WordsColumn
from studio.kit.tables import BaseTable


def _list_lines(quote: Quote) -> str:
    return ", ".join(f"{line.quantity} × {line.design}" for line in quote.lines.all())


class QuoteTable(BaseTable):
    caption = "Quotes"

    name = TextColumn("Quote", linkify=("costing:quote-detail", [A("pk")]))
    what = WordsColumn("What", _list_lines)
    customer = TextColumn("For", wide=True)
    alloy = TextColumn("Alloy", wide=True)
    wanted_on = DayColumn("Wanted on", wide=True)
    made_on = DayColumn("Quoted")

    class Meta:
        empty_text = "No quote yet. With one you see the cost as a range, what to buy, and a price to offer."
