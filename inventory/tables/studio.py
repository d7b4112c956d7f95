"""Tables of the set-up: alloys, suppliers, customers, equipment, people."""

from typing import Any

from django_tables2 import A

from inventory.models import Equipment
from inventory.queries.equipment import Use, use_of
from studio.kit import printing
from studio.kit.columns import (
    CountColumn,
    DayColumn,
    FigureColumn,
    MomentColumn,
    TextColumn,
    WordsColumn,
    WorkedColumn,
)
from studio.kit.tables import BaseTable


def describe_size(tool: Equipment) -> str:
    """What tells this tool from another of its kind: a flask's inside, a crucible's capacity, a kiln's power."""
    if tool.diameter_um and tool.height_um:
        return f"{printing.print_length(tool.diameter_um)} × {printing.print_length(tool.height_um)}"
    words = [tool.get_crucible_material_display()] if tool.crucible_material else []
    if tool.capacity_mg:
        words.append(f"up to {printing.print_mass(tool.capacity_mg)}")
    if tool.rated_w:
        words.append(f"{tool.rated_w:,}{printing.SPACE}W")
    return ", ".join(words)


def describe_use(use: Use) -> str:
    """ "47 of about 50 melts, nearly worn out" """
    unit = use.unit if use.used != 1 else use.unit.removesuffix("s")
    if use.life is None:
        return f"{use.used:,} {unit}"
    words = f"{use.used:,} of about {use.life:,} {use.unit}"
    if use.is_over:
        return f"{words}: it has outlived them"
    return f"{words}: nearly worn out" if use.is_near_end else words


def _taken(name: str, kind: str, **more: Any) -> FigureColumn:
    """A figure for files alone."""
    return FigureColumn(name, kind=kind, visible=False, **more)


class AlloyTable(BaseTable):
    caption = "Alloys"

    name = TextColumn(linkify=("inventory:alloy-edit", [A("pk")]))
    metal = TextColumn("Precious metal", wide=True)
    fineness = CountColumn("Of 1000", empty_values=(None, 0))
    density_mg_cm3 = FigureColumn("Density", kind="density")
    # The page's words are made of figures: files get those.
    melts = TextColumn(
        "Melts", accessor="heats__melting", orderable=False, wide=True, exclude_from_export=True
    )
    poured = TextColumn(
        "Poured at", accessor="heats__pour", orderable=False, wide=True, exclude_from_export=True
    )
    solidus_c = _taken("Melts from", "celsius")
    liquidus_c = _taken("Melts up to", "celsius")
    pour_least_c = _taken("Poured from", "celsius")
    pour_most_c = _taken("Poured up to", "celsius")
    density_note = TextColumn("Density from", wide=True)

    class Meta:
        empty_text = "No alloy yet. Write down what you cast: its fineness and how dense it is."

    def render_fineness(self, value: int) -> str:
        return str(value)


class SupplierTable(BaseTable):
    caption = "Suppliers"

    name = TextColumn(linkify=("inventory:supplier-edit", [A("pk")]))
    lead_time_days = FigureColumn("A parcel takes", kind="days")
    lead_time_spread_days = FigureColumn("Give or take", kind="days", wide=True)
    contact = TextColumn(wide=True)

    class Meta:
        empty_text = "No supplier yet. Write down whom you buy from, and how long a parcel takes."


class CustomerTable(BaseTable):
    caption = "Customers"

    name = TextColumn(linkify=("inventory:customer-edit", [A("pk")]))
    contact = TextColumn()

    class Meta:
        empty_text = "No customer yet. You only need them to cast metal that somebody else brings."


class EquipmentTable(BaseTable):
    """Rows come from `equipment_with_use`."""

    caption = "Equipment"

    name = TextColumn(linkify=("inventory:equipment-edit", [A("pk")]))
    kind = TextColumn(wide=True)
    size = WordsColumn("Size", describe_size, wide=True, exclude_from_export=True)
    used = WordsColumn("Used so far", lambda tool: describe_use(use_of(tool)), exclude_from_export=True)
    diameter_um = _taken("Inside, across", "length")
    height_um = _taken("Inside, high", "length")
    crucible_material = TextColumn("Made of", visible=False)
    capacity_mg = _taken("Holds up to", "mass")
    rated_w = _taken("Power", "power")
    uses = WorkedColumn("Used so far", lambda tool, table: use_of(tool).used, accessor="pk", visible=False)
    life_uses = _taken("Lasts about", "count")
    life_unit = TextColumn("Counted in", visible=False)

    class Meta:
        empty_text = "No equipment yet. A cast needs a kiln, a flask and a crucible."
        row_attrs = {"class": lambda record: "marked" if use_of(record).is_near_end else ""}


class WearingPartTable(BaseTable):
    caption = "What wears and is replaced"

    name = TextColumn(linkify=("inventory:wearing-part-edit", [A("pk")]))
    equipment = TextColumn("Of", empty_values=(), orderable=False, wide=True)
    counted_by = TextColumn("Counted in", wide=True)
    life = CountColumn("Lasts about")
    new_on = DayColumn("New on")
    lead_days = FigureColumn("Another takes", kind="days", wide=True)
    note = TextColumn(wide=True)

    class Meta:
        empty_text = (
            "Nothing yet. Write down what wears and how long it lasts: home says when to order another."
        )

    def render_equipment(self, value: Any) -> str:
        return str(value or "all casts and firings")


class LabelSheetTable(BaseTable):
    caption = "Label sheets"

    name = TextColumn(linkify=("inventory:label-sheet-edit", [A("pk")]))
    columns = CountColumn("Across")
    rows = CountColumn("Down")
    label_width_um = FigureColumn("Width", kind="length", wide=True)
    label_height_um = FigureColumn("Height", kind="length", wide=True)

    class Meta:
        empty_text = "No label sheet yet. Write down how the labels lie on one."


class PersonTable(BaseTable):
    caption = "People who sign in"

    username = TextColumn("Name", linkify=("inventory:person", [A("pk")]))
    last_login = MomentColumn("Last signed in")
    is_active = WordsColumn("May sign in", lambda person: "yes" if person.is_active else "no", wide=True)
