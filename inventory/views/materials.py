"""Materials: what is kept in stock."""

from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.filters.stock import MaterialFilter
from inventory.forms.materials import MaterialForm
from inventory.models import Material
from inventory.queries.stock import materials_with_stock
from inventory.tables.stock import MaterialTable
from studio.kit.listing import ListingView

from .records import RecordCreate, RecordMixin, RecordUpdate

KIND_WORDS = {
    Material.Kind.METAL: "grain, sheet, scrap and reclaim of an alloy",
    Material.Kind.POWDER: "what the mould is mixed from",
    Material.Kind.PATTERN: "wax, filament or resin that burns out",
    Material.Kind.CONSUMABLE: "flux, saw blades, polish",
    Material.Kind.FINDING: "ear wires, jump rings, stones",
    Material.Kind.PACKAGING: "boxes and cards that go out with a piece",
}


class MaterialList(ListingView):
    title = "Materials"
    lead = "The kinds of things you keep. Each parcel of a material is a lot of its own."
    table_class = MaterialTable
    filterset_class = MaterialFilter
    press = ("Enter a material", "inventory:material-new")

    def get_queryset(self) -> "QuerySet[Material]":
        return materials_with_stock()


class _MaterialMixin(RecordMixin):
    model = Material
    form_class = MaterialForm
    list_name = "inventory:material-list"
    list_label = "Materials"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return {**super().get_context_data(**kwargs), "section": "stock"}


class MaterialCreate(_MaterialMixin, RecordCreate):
    """First asks for the kind, since each kind has fields of its own."""

    title = "A new material"

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        self.kind = request.GET.get("kind", "")
        if self.kind not in Material.Kind.values:
            return self.ask_for_kind(request)
        return super().dispatch(request, *args, **kwargs)

    def ask_for_kind(self, request: HttpRequest) -> HttpResponse:
        kinds = [(kind.value, kind.label, KIND_WORDS[kind]) for kind in Material.Kind]
        return render(request, "stock/material_kind.html", {"kinds": kinds, "section": "stock"})

    def get_title(self) -> str:
        return f"A new material: {Material.Kind(self.kind).label}"

    def get_form_kwargs(self) -> dict[str, Any]:
        return {**super().get_form_kwargs(), "kind": self.kind}


class MaterialUpdate(_MaterialMixin, RecordUpdate):
    def get_form_kwargs(self) -> dict[str, Any]:
        return {**super().get_form_kwargs(), "kind": self.object.kind}
