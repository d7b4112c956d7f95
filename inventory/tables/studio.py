"""Tables of the set-up: alloys, suppliers, customers, equipment, people."""

from django.contrib.auth.models import User
from django_tables2 import A

from inventory.models import Alloy, Customer, Equipment, Supplier
from inventory.queries.equipment import Use, use_of
from studio.kit import printing
from studio.kit.columns import CountColumn, FigureColumn, MomentColumn, TextColumn
from studio.kit.tables import BaseTable


class AlloyTable(BaseTable):
    caption = "Alloys"

    name = TextColumn(linkify=("inventory:alloy-edit", [A("pk")]))
    fineness = CountColumn(verbose_name="Of 1000")
    density_mg_cm3 = FigureColumn(kind="density", verbose_name="Density")
    metal = TextColumn(verbose_name="Precious metal", wide=True)
    melts = TextColumn(accessor="heats__melting", orderable=False, verbose_name="Melts", wide=True)
    poured = TextColumn(accessor="heats__pour", orderable=False, verbose_name="Poured at", wide=True)
    density_note = TextColumn(verbose_name="Density from", wide=True)

    class Meta:
        model = Alloy
        fields = ("name", "metal", "fineness", "density_mg_cm3", "melts", "poured", "density_note")
        empty_text = "No alloy yet. Write down what you cast: its fineness and how dense it is."

    def render_fineness(self, value: int) -> str:
        return str(value) if value else printing.NOTHING


class SupplierTable(BaseTable):
    caption = "Suppliers"

    name = TextColumn(linkify=("inventory:supplier-edit", [A("pk")]))
    lead_time_days = FigureColumn(kind="days", verbose_name="A parcel takes")
    lead_time_spread_days = FigureColumn(kind="days", verbose_name="Give or take", wide=True)
    contact = TextColumn(wide=True)

    class Meta:
        model = Supplier
        fields = ("name", "lead_time_days", "lead_time_spread_days", "contact")
        empty_text = "No supplier yet. Write down whom you buy from, and how long a parcel takes."


class CustomerTable(BaseTable):
    caption = "Customers"

    name = TextColumn(linkify=("inventory:customer-edit", [A("pk")]))
    contact = TextColumn()

    class Meta:
        model = Customer
        fields = ("name", "contact")
        empty_text = "No customer yet. You only need them to cast metal that somebody else brings."


class EquipmentTable(BaseTable):
    """Rows come from `equipment_with_use`."""

    caption = "Equipment"

    name = TextColumn(linkify=("inventory:equipment-edit", [A("pk")]))
    kind = TextColumn(wide=True)
    size = TextColumn(empty_values=(), orderable=False, wide=True)
    used = TextColumn(empty_values=(), orderable=False, verbose_name="Used so far")

    class Meta:
        model = Equipment
        fields = ("name", "kind", "size", "used")
        empty_text = "No equipment yet. A cast needs a kiln, a flask and a crucible."
        row_attrs = {"class": lambda record: "marked" if use_of(record).is_near_end else ""}

    def render_size(self, record: Equipment) -> str:
        return describe_size(record) or printing.NOTHING

    def value_size(self, record: Equipment) -> str:
        return describe_size(record)

    def render_used(self, record: Equipment) -> str:
        return describe_use(use_of(record))

    def value_used(self, record: Equipment) -> str:
        return describe_use(use_of(record))


class PersonTable(BaseTable):
    caption = "People who sign in"

    username = TextColumn(verbose_name="Name", linkify=("inventory:person", [A("pk")]))
    last_login = MomentColumn(verbose_name="Last signed in")
    is_active = TextColumn(verbose_name="May sign in", orderable=False, wide=True)

    class Meta:
        model = User
        fields = ("username", "last_login", "is_active")

    def render_is_active(self, value: bool) -> str:
        return "yes" if value else "no"


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
