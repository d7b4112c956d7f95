"""Materials: what is kept in stock."""

from typing import Any

from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import render

from inventory.filters import MaterialFilter
from inventory.forms.materials import MaterialForm
from inventory.forms.sheet import Sheet
from inventory.models import Material
from inventory.queries.stock import materials_with_stock
from inventory.tables.stock import MaterialTable

from .records import RecordPages

KIND_WORDS = {
    Material.Kind.METAL: "grain, sheet, scrap and reclaim of an alloy",
    Material.Kind.POWDER: "what the mould is mixed from",
    Material.Kind.PATTERN: "wax, filament or resin that burns out",
    Material.Kind.CONSUMABLE: "flux, saw blades, polish",
    Material.Kind.FINDING: "ear wires, jump rings, stones",
    Material.Kind.PACKAGING: "boxes and cards that go out with a piece",
}


class Materials(RecordPages):
    """A new one first asks for its kind, since each kind has fields of its own."""

    name, folder = "material", "stock/materials/"
    model, form_class, table_class = Material, MaterialForm, MaterialTable
    title = "Materials"
    lead = "The kinds of things you keep. Each parcel of a material is a lot of its own."
    press = ("Enter a material", "inventory:material-new")
    filterset_class = MaterialFilter

    def get_queryset(self) -> "QuerySet[Material]":
        return materials_with_stock()

    def edit(self) -> HttpResponse:
        if "pk" not in self.kwargs and self.asked_kind not in Material.Kind.values:
            kinds = [(kind.value, kind.label, KIND_WORDS[kind]) for kind in Material.Kind]
            context = {"kinds": kinds}
            return render(self.request, "stock/material_kind.html", context)
        return super().edit()

    @property
    def asked_kind(self) -> str:
        return self.request.GET.get("kind", "")

    def get_new_title(self) -> str:
        return f"A new material: {Material.Kind(self.asked_kind).label}"

    def make_sheet(self, data: Any, record: Material | None) -> Sheet:
        return Sheet(MaterialForm(data, instance=record, kind=record.kind if record else self.asked_kind))
