"""The ledger's lists: entries, and the lines of one entry."""

from typing import Any

from django.urls import reverse
from django.utils.html import format_html
from django_tables2 import A

from inventory.models import Entry, Holder, Movement
from inventory.queries.ledger import line_unit, name_holder
from studio.kit import printing
from studio.kit.columns import (
    CountColumn,
    DayColumn,
    FineColumn,
    MomentColumn,
    MoneyColumn,
    QuantityColumn,
    TextColumn,
    WordsColumn,
)
from studio.kit.measures import stock_measure
from studio.kit.tables import BaseTable


def is_reversed(entry: Entry) -> bool:
    return hasattr(entry, "reversed_by")


def describe_about(entry: Entry) -> str:
    """Which piece, cast or delivery an entry is about; "" for none."""
    if entry.piece is not None:
        return entry.piece.name
    if entry.cast is not None:
        return f"cast {entry.cast.number}"
    return f"delivery {entry.bill_for_id}" if entry.bill_for_id else ""


def describe_state(entry: Entry) -> str:
    if entry.reverses_id is not None:
        return f"takes back entry {entry.reverses_id}"
    return f"by entry {entry.reversed_by.pk}" if is_reversed(entry) else ""


class EntryTable(BaseTable):
    """Rows come from `entries_with_names`."""

    caption = "Entries"
    first_step = ("Enter a delivery", "inventory:delivery-new")

    pk = CountColumn("Entry", linkify=("inventory:entry-detail", [A("pk")]), order_by="pk")
    day = DayColumn()
    kind = TextColumn("What")
    about = WordsColumn("Of", describe_about, visible=False)
    state = WordsColumn("Taken back", describe_state, wide=True)
    recorded_by = TextColumn("Written by", wide=True)
    recorded_at = MomentColumn("Written on", wide=True)
    note = TextColumn(wide=True)

    class Meta:
        empty_text = "Nothing is written down yet. The first delivery or opening stock makes the first entry."
        row_attrs = {"class": lambda record: "turned-back" if is_reversed(record) else ""}

    def render_pk(self, value: int) -> str:
        return str(value)

    def render_kind(self, value: str, record: Entry) -> str:
        about = describe_about(record)
        return f"{value}, {about}" if about else value


class LineTable(BaseTable):
    """The lines of one entry, from `lines_with_names`; `turned` shows them as a reversal would write them."""

    caption = "What moves"

    source = TextColumn("From", orderable=False)
    target = TextColumn("To", orderable=False)
    what = TextColumn("As", orderable=False, wide=True)
    quantity = QuantityColumn(orderable=False)
    fine_ug = FineColumn("Fine", orderable=False, wide=True)
    cost_micro = MoneyColumn("Cost", orderable=False, wide=True)

    def __init__(self, *args: Any, turned: bool = False, **kwargs: Any) -> None:
        self.turned = turned
        super().__init__(*args, **kwargs)

    def render_source(self, record: Movement) -> str:
        return link_holder(record.target if self.turned else record.source)

    def render_target(self, record: Movement) -> str:
        return link_holder(record.source if self.turned else record.target)

    def render_quantity(self, record: Movement) -> str:
        return stock_measure(line_unit(record)).print_in_column(record.quantity)

    def render_cost_micro(self, value: int) -> str:
        return printing.print_exact_money(value)

    def render_fine_ug(self, value: int) -> str:
        return printing.print_fine(value) if value else printing.NOTHING


def holder_address(holder: Holder) -> str:
    """Where a lot, cast or piece has its page; "" for the outside world."""
    if holder.kind == Holder.Kind.LOT:
        return reverse("inventory:lot-detail", args=[holder.lot.pk])
    if holder.kind == Holder.Kind.CRUCIBLE:
        return reverse("inventory:cast-detail", args=[holder.cast.number])
    if holder.kind == Holder.Kind.PIECE:
        return reverse("inventory:piece-detail", args=[holder.piece.pk])
    if holder.kind == Holder.Kind.BATCH:
        return reverse("inventory:batch-detail", args=[holder.batch.pk])
    return ""


def link_holder(holder: Holder) -> str:
    name = name_holder(holder)
    address = holder_address(holder)
    return format_html('<a href="{}">{}</a>', address, name) if address else name
