"""Tables of what is in stock and of what happened to a lot."""

from typing import Any

from django.urls import reverse
from django.utils.html import format_html
from django.utils.http import urlencode
from django.utils.safestring import SafeString
from django_tables2 import A

from inventory.models import Entry, Lot, Material, Movement
from inventory.queries.ledger import name_holder
from studio.kit.columns import (
    CountColumn,
    DayColumn,
    FigureColumn,
    FineColumn,
    MassColumn,
    MoneyColumn,
    QuantityColumn,
    TextColumn,
)
from studio.kit.printing import NOTHING, SPACE, print_bulk, print_money
from studio.kit.tables import BaseTable

_EMPTY = (None, "", 0)


def lots_address(**filters: Any) -> str:
    """The list of lots, filtered."""
    return f"{reverse('inventory:lot-list')}?{urlencode(filters)}"


class StockQuantityColumn(QuantityColumn):
    """A quantity as it stands on a shelf: kilograms from one kilogram on."""

    def print_figure(self, value: int, record: Any) -> str:
        is_mass = self.find_unit(record) == Material.Unit.MASS
        return print_bulk(value) if is_mass else super().print_figure(value, record)


class MetalTable(BaseTable):
    """The studio's own metal by alloy."""

    alloy = TextColumn(
        verbose_name="Alloy", linkify=lambda record: lots_address(alloy=record.alloy_id, owner="null")
    )
    fresh = MassColumn(accessor="fresh_mg", empty_values=_EMPTY, verbose_name="Fresh")
    clean = MassColumn(accessor="clean_mg", empty_values=_EMPTY, verbose_name="Clean reclaim")
    spill = MassColumn(accessor="spill_mg", empty_values=_EMPTY, verbose_name="Spill", wide=True)
    filings = MassColumn(accessor="filings_mg", empty_values=_EMPTY, verbose_name="Filings", wide=True)
    mass = MassColumn(accessor="mass_mg", verbose_name="Together", wide=True)
    fine = FineColumn(accessor="fine_ug", empty_values=_EMPTY, verbose_name="Fine metal", wide=True)
    cost = MoneyColumn(accessor="cost_micro", verbose_name="Cost", wide=True)

    caption = "The studio's own, at what it cost"
    total_label = "All metal"

    class Meta:
        empty_text = "No metal in stock."


class CustomersMetalTable(BaseTable):
    """Customers' metal, by whose it is."""

    owner = TextColumn(
        verbose_name="Whose",
        linkify=lambda record: lots_address(alloy=record.alloy_id, owner=record.owner_id),
    )
    alloy = TextColumn(verbose_name="Alloy")
    mass = MassColumn(accessor="mass_mg", verbose_name="Weight")
    fine = FineColumn(accessor="fine_ug", empty_values=_EMPTY, verbose_name="Fine metal", wide=True)

    caption = "As it was weighed, less what has gone since"

    class Meta:
        empty_text = "No customer's metal is here."


class OtherStockTable(BaseTable):
    """Powder, patterns and everything else, by material."""

    name = TextColumn(
        verbose_name="Material", linkify=lambda record: lots_address(material=record["material_id"])
    )
    quantity = StockQuantityColumn(verbose_name="On hand")
    lots = CountColumn(verbose_name="Lots", wide=True)
    use_by = DayColumn(verbose_name="Use by", wide=True)
    kind = TextColumn(verbose_name="Kind", wide=True)
    unusable = StockQuantityColumn(verbose_name="Out of date or damp", empty_values=_EMPTY, wide=True)
    cost = MoneyColumn(verbose_name="Cost", wide=True)

    caption = "On hand, at what it cost"
    total_label = "All of it"

    class Meta:
        sequence = ("name", "kind", "quantity", "lots", "use_by", "unusable", "cost")
        empty_text = "Nothing but metal in stock."

    def render_kind(self, value: str) -> str:
        return str(Material.Kind(value).label)


class LotTable(BaseTable):
    """Lots, one a row."""

    lot = TextColumn(accessor="pk", verbose_name="Lot", linkify=("inventory:lot-detail", {"pk": A("pk")}))
    material = TextColumn(accessor="material__name", verbose_name="Material")
    origin = TextColumn(verbose_name="Origin", wide=True)
    owner = TextColumn(accessor="owner__name", verbose_name="Whose", default="own", wide=True)
    received = DayColumn(accessor="received_on", verbose_name="Received", wide=True)
    use_by = DayColumn(verbose_name="Use by", wide=True)
    left = QuantityColumn(accessor="holder__quantity", unit="material__unit", verbose_name="Left")
    fine = FineColumn(accessor="holder__fine_ug", empty_values=_EMPTY, verbose_name="Fine", wide=True)
    cost = MoneyColumn(accessor="holder__cost_micro", verbose_name="Cost", wide=True)
    melts = FigureColumn(
        kind="melts", accessor="melts_milli", empty_values=_EMPTY, verbose_name="Melts", wide=True
    )

    caption = "Lots"
    first_step = ("Enter a delivery", "inventory:delivery-new")

    class Meta:
        empty_text = (
            "There is nothing in stock yet. Enter a delivery, or what was here before the books began."
        )
        order_by = "-received"

    def render_lot(self, record: Lot) -> str:
        return f"Lot{SPACE}{record.pk}"

    def render_origin(self, record: Lot) -> str:
        origin = record.get_origin_display()
        return f"{origin} of cast {record.from_cast.number}" if record.from_cast else origin


class MaterialTable(BaseTable):
    """Materials, one a row."""

    name = TextColumn(linkify=("inventory:material-edit", {"pk": A("pk")}), verbose_name="Material")
    kind = TextColumn(verbose_name="Kind", wide=True)
    on_hand = StockQuantityColumn(verbose_name="On hand")
    lots = CountColumn(accessor="lot_count", verbose_name="Lots", wide=True)
    supplier = TextColumn(accessor="supplier__name", verbose_name="Usual supplier", wide=True)
    archived = TextColumn(verbose_name="Bought", wide=True)

    caption = "Materials"

    class Meta:
        empty_text = "No materials yet. Enter what you buy: grain, powder, wax."

    def render_lots(self, value: int, record: Any) -> SafeString | str:
        if not value:
            return "0"
        address = lots_address(material=record.pk, show="all")
        return format_html('<a href="{}">{}</a>', address, value)

    def render_archived(self, value: bool) -> str:
        return "no longer" if value else "yes"


class HistoryTable(BaseTable):
    """The movements of one lot."""

    entry = TextColumn(
        accessor="entry__kind", verbose_name="What", linkify=("inventory:entry-detail", {"pk": A("entry_id")})
    )
    day = DayColumn(verbose_name="Day")
    other = TextColumn(empty_values=(), verbose_name="From or to", orderable=False, wide=True)
    change = QuantityColumn(unit="lot_unit", verbose_name="Change", orderable=False)
    left = QuantityColumn(unit="lot_unit", verbose_name="Left", orderable=False, wide=True)
    cost = FigureColumn(accessor="change_of_cost", verbose_name="Cost", orderable=False, wide=True)

    caption = "Newest first"

    class Meta:
        row_attrs = {"class": lambda record: "turned-back" if record.is_turned_back else ""}
        empty_text = "Nothing has moved yet."

    def render_entry(self, value: str, record: Movement) -> str:
        words = str(value)
        if record.what == Movement.What.CHARGES and record.entry.kind == Entry.Kind.DELIVERY:
            words += f": {record.get_what_display()}"
        cast = record.entry.cast
        if cast is not None:
            words += f", cast {cast.number}"
        reverses = record.entry.reverses
        return f"{words} of {reverses.get_kind_display()}" if reverses is not None else words

    def render_other(self, record: Any) -> str:
        if record.is_out:
            return f"to {name_holder(record.target)}"
        return f"from {name_holder(record.source)}"

    def render_change(self, value: int, record: Any, column: QuantityColumn) -> str:
        if not value:
            return NOTHING
        return ("+" if value > 0 else "") + column.print_figure(value, record)

    def render_cost(self, value: int) -> str:
        return ("+" if value > 0 else "") + print_money(value) if value else NOTHING
