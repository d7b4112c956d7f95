"""Tables of what is in stock, of what happened to a lot, and of buying."""

from typing import Any

from django.urls import reverse
from django.utils.html import format_html
from django.utils.http import urlencode
from django.utils.safestring import SafeString
from django_tables2 import A

from inventory.models import Delivery, Entry, Lot, Material, Movement
from inventory.queries.buying import ReceivedLot
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
    WordsColumn,
)
from studio.kit.printing import NOTHING, SPACE, print_bulk, print_money
from studio.kit.tables import BaseTable
from studio.kit.units import MG_PER_KG

_EMPTY = (None, "", 0)


def lots_address(**filters: Any) -> str:
    """The list of lots, filtered."""
    return f"{reverse('inventory:lot-list')}?{urlencode(filters)}"


class StockQuantityColumn(QuantityColumn):
    """A quantity as it stands on a shelf: kilograms from one kilogram on."""

    def print_figure(self, value: int, record: Any) -> str:
        is_bulk = self.find_unit(record) == Material.Unit.MASS and abs(value) >= MG_PER_KG
        return print_bulk(value) if is_bulk else super().print_figure(value, record)


class MetalTable(BaseTable):
    """The studio's own metal by alloy. Grams of unlike metals make no sum; what they cost does."""

    alloy = TextColumn("Alloy", linkify=lambda record: lots_address(alloy=record.alloy_id, owner="null"))
    fresh = MassColumn("Fresh", accessor="fresh_mg", empty_values=_EMPTY, wide=True)
    clean = MassColumn("Clean reclaim", accessor="clean_mg", empty_values=_EMPTY, wide=True)
    failed = MassColumn("Failed castings", accessor="failed_mg", empty_values=_EMPTY, wide=True)
    spill = MassColumn("Spill", accessor="spill_mg", empty_values=_EMPTY, wide=True)
    filings = MassColumn("Filings", accessor="filings_mg", empty_values=_EMPTY, wide=True)
    mass = MassColumn("Together", accessor="mass_mg")
    fine = FineColumn("Fine metal", accessor="fine_ug", empty_values=_EMPTY, wide=True)
    cost = MoneyColumn("Cost", accessor="cost_micro")

    caption = "The studio's own, at what it cost"
    total_label = "All metal"

    class Meta:
        empty_text = "No metal in stock."


class CustomersMetalTable(BaseTable):
    """Customers' metal, by whose it is."""

    owner = TextColumn(
        "Whose", linkify=lambda record: lots_address(alloy=record.alloy_id, owner=record.owner_id)
    )
    alloy = TextColumn("Alloy")
    mass = MassColumn("Weight", accessor="mass_mg")
    fine = FineColumn("Fine metal", accessor="fine_ug", empty_values=_EMPTY, wide=True)

    caption = "As it was weighed, less what has gone since"

    class Meta:
        empty_text = "No customer's metal is here."


class OtherStockTable(BaseTable):
    """Powder, patterns and everything else, by material."""

    name = TextColumn("Material", linkify=lambda record: lots_address(material=record["material_id"]))
    kind = TextColumn("Kind", wide=True)
    quantity = StockQuantityColumn("On hand")
    lots = CountColumn("Lots", wide=True)
    use_by = DayColumn("Use by", wide=True)
    unusable = StockQuantityColumn("Out of date or damp", empty_values=_EMPTY, wide=True)
    cost = MoneyColumn("Cost")

    caption = "On hand, at what it cost"
    total_label = "All of it"

    class Meta:
        empty_text = "Nothing but metal in stock."

    def render_kind(self, value: str) -> str:
        return str(Material.Kind(value).label)


class LotTable(BaseTable):
    """Lots, one a row."""

    lot = TextColumn("Lot", accessor="pk", linkify=("inventory:lot-detail", {"pk": A("pk")}))
    material = TextColumn("Material", accessor="material__name")
    origin = TextColumn("Origin", wide=True)
    owner = TextColumn("Whose", accessor="owner__name", default="own", wide=True)
    received = DayColumn("Received", accessor="received_on", wide=True)
    use_by = DayColumn("Use by", wide=True)
    left = QuantityColumn("Left", accessor="holder__quantity", unit="material__unit")
    fine = FineColumn("Fine", accessor="holder__fine_ug", empty_values=_EMPTY, wide=True)
    cost = MoneyColumn("Cost", accessor="holder__cost_micro", wide=True)
    melts = FigureColumn("Melts", kind="melts", accessor="melts_milli", empty_values=_EMPTY, wide=True)

    caption = "Lots"
    first_step = ("Enter a delivery", "inventory:delivery-new")

    class Meta:
        empty_text = (
            "There is nothing in stock yet. Enter a delivery, or what was here before the books began."
        )
        order_by = "-received"

    def render_lot(self, record: Lot) -> str:
        return f"Lot{SPACE}{record.pk}"

    def value_lot(self, record: Lot) -> int:
        return record.pk

    def render_material(self, value: str, record: Lot) -> SafeString:
        """On a phone whose it is and where it came from stand under the material."""
        whose = f"{record.owner}'s, " if record.owner else ""
        seller = f" from {record.supplier}" if record.supplier else ""
        words = f"{whose}{self.render_origin(record)}{seller}"
        return format_html('{}<span class="help narrow-only">{}</span>', value, words)

    def value_material(self, value: str) -> str:
        return value

    def render_origin(self, record: Lot) -> str:
        origin = record.get_origin_display()
        return f"{origin} of cast {record.from_cast.number}" if record.from_cast else origin


class MaterialTable(BaseTable):
    """Materials, one a row."""

    name = TextColumn("Material", linkify=("inventory:material-edit", {"pk": A("pk")}))
    kind = TextColumn("Kind", wide=True)
    on_hand = StockQuantityColumn("On hand")
    lots = CountColumn("Lots", accessor="lot_count", wide=True)
    supplier = TextColumn("Usual supplier", accessor="supplier__name", wide=True)
    archived = TextColumn("Bought", wide=True)

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
        "What", accessor="entry__kind", linkify=("inventory:entry-detail", {"pk": A("entry_id")})
    )
    day = DayColumn("Day")
    other = TextColumn("From or to", empty_values=(), orderable=False, wide=True)
    change = QuantityColumn("Change", unit="lot_unit", orderable=False)
    left = QuantityColumn("Left", unit="lot_unit", orderable=False, wide=True)
    cost = FigureColumn("Cost", accessor="change_of_cost", orderable=False, wide=True)

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


def _materials_of(delivery: Delivery) -> dict[str, None]:
    """Each once, in the order of its bill."""
    return dict.fromkeys(str(lot.material) for lot in delivery.lots.all())


class DeliveryTable(BaseTable):
    """Deliveries, one a row."""

    supplier = TextColumn(
        "From", accessor="supplier__name", linkify=("inventory:delivery-detail", {"pk": A("pk")})
    )
    came = WordsColumn("What came", lambda delivery: ", ".join(_materials_of(delivery)))
    received = DayColumn("Came on", accessor="received_on", wide=True)
    reference = TextColumn("Reference", wide=True)
    lines = CountColumn("Lines", accessor="line_count", wide=True)
    goods = MoneyColumn("Prices", accessor="goods_micro", wide=True)
    on_top = MoneyColumn("On top", accessor="on_top_micro", wide=True)
    landed = MoneyColumn("Cost with carriage", accessor="landed_micro")
    void = TextColumn("Taken back", visible=False)

    caption = "Deliveries"
    first_step = ("Enter a delivery", "inventory:delivery-new")

    class Meta:
        empty_text = "No deliveries yet. Enter the first: what came, at what price, and what carriage cost."
        row_attrs = {"class": lambda record: "turned-back" if record.void else ""}

    def render_supplier(self, value: str, record: Delivery) -> str:
        return f"{value}, taken back" if record.void else value

    def value_supplier(self, value: str) -> str:
        return value


class ReceivedTable(BaseTable):
    """The lots of a delivery, with what each cost."""

    lot = TextColumn("Lot", accessor="lot__pk", linkify=("inventory:lot-detail", {"pk": A("lot__pk")}))
    material = TextColumn("Material", accessor="lot__material__name")
    quantity = QuantityColumn("Came", accessor="line__quantity", unit="line__unit")
    price = MoneyColumn("Price", accessor="line__price_micro", wide=True)
    share = MoneyColumn("Share on top", accessor="line__share_micro", wide=True)
    late = MoneyColumn("Later bills", accessor="line__late_micro", empty_values=(None, 0), wide=True)
    landed = MoneyColumn("Cost with carriage", accessor="line__landed_micro")
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
    landed = MoneyColumn("Cost with carriage", accessor="landed_micro", orderable=False)
    rate = TextColumn("That is", accessor="rate_text", orderable=False, attrs={"cell": {"class": "num wide"}})

    caption = "Line by line"

    def render_line(self, value: Any) -> str:
        return f"Line{SPACE}{value}"
