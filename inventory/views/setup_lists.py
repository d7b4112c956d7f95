"""Lists of the set-up: whom the studio deals with, its alloys, and what it casts with."""

from typing import Any

from django.http import Http404
from django.urls import URLPattern, reverse

from inventory.core.powder import compute_flask_inside
from inventory.filters import EquipmentFilter
from inventory.forms.alloys import AlloyForm, AlloySheet, density_working
from inventory.forms.equipment import EquipmentForm
from inventory.forms.sheet import Sheet
from inventory.forms.studio import CustomerForm, SupplierForm
from inventory.models import Alloy, Customer, Equipment, Supplier
from inventory.posting.setup import write_composition
from inventory.queries.equipment import equipment_with_use, use_of
from inventory.queries.plans import melt_cautions
from inventory.tables.studio import AlloyTable, CustomerTable, EquipmentTable, SupplierTable, describe_use

from .records import RecordPages


class Suppliers(RecordPages):
    name, folder = "supplier", "setup/suppliers/"
    model, form_class, table_class = Supplier, SupplierForm, SupplierTable
    title = "Suppliers"
    lead = "Whom you buy from. How long a parcel takes decides when to order."
    press = ("Write down a supplier", "inventory:supplier-new")
    new_title = "A new supplier"


class Customers(RecordPages):
    name, folder = "customer", "setup/customers/"
    model, form_class, table_class = Customer, CustomerForm, CustomerTable
    title = "Customers"
    lead = "Whose own metal you cast. It is kept apart from yours, and carries no cost."
    press = ("Write down a customer", "inventory:customer-new")
    new_title = "A new customer"


class Alloys(RecordPages):
    name, folder = "alloy", "setup/alloys/"
    model, form_class, table_class = Alloy, AlloyForm, AlloyTable
    title = "Alloys"
    lead = "What you cast. The density turns a wax weight into a metal weight; the fineness counts the fine metal."
    press = ("Write down an alloy", "inventory:alloy-new")
    new_title = "A new alloy"
    record_template = "setup/alloy.html"

    def make_sheet(self, data: Any, record: Alloy | None) -> AlloySheet:
        return AlloySheet(data, record)

    def save(self, sheet: Any) -> Alloy:
        alloy: Alloy = sheet.form.save()
        write_composition(alloy, sheet.rows["parts"].parts)
        return alloy

    def read_more(self, record: Alloy | None) -> dict[str, Any]:
        if record is None:
            return {"working": None, "cautions": ()}
        stored = {part.element: part.per_10000 for part in record.parts.all()}
        return {"working": density_working(stored), "cautions": melt_cautions([record.pk])}


class AllEquipment(RecordPages):
    name, folder = "equipment", "setup/equipment/"
    model, form_class, table_class = Equipment, EquipmentForm, EquipmentTable
    template_name, record_template = "setup/equipment_list.html", "setup/equipment.html"
    title = "Equipment"
    lead = "What you cast with. Its wear is part of what a piece costs."
    filterset_class = EquipmentFilter

    @classmethod
    def record_urls(cls, new_path: str = "new/<str:kind>/") -> list[URLPattern]:
        return super().record_urls(new_path)

    def get_queryset(self) -> Any:
        return equipment_with_use()

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        kinds = [
            (kind.label, reverse("inventory:equipment-new", args=[kind.value])) for kind in Equipment.Kind
        ]
        return super().get_context_data(kinds=kinds, **kwargs)

    def get_new_title(self) -> str:
        return f"A new {self.find_kind(None).label}"

    def find_kind(self, record: Equipment | None) -> Equipment.Kind:
        try:
            return Equipment.Kind(record.kind if record else self.kwargs["kind"])
        except ValueError as unknown:
            raise Http404 from unknown

    def make_sheet(self, data: Any, record: Equipment | None) -> Sheet:
        return Sheet(EquipmentForm(data, instance=record, kind=self.find_kind(record)))

    def read_more(self, record: Equipment | None) -> dict[str, Any]:
        if record is None:
            return {}
        working = None
        if record.diameter_um and record.height_um:
            working = compute_flask_inside(record.diameter_um, record.height_um)[1]
        use = use_of(record)
        return {"kind": record.kind, "use": use, "use_words": describe_use(use), "working": working}
