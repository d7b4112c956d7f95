"""Kilns, flasks, crucibles, casting machines and pumps."""

from typing import Any

from django.http import Http404
from django.urls import reverse

from inventory.core.flask import compute_flask_inside
from inventory.filters.studio import EquipmentFilter
from inventory.forms.equipment import EquipmentForm
from inventory.models import Equipment
from inventory.queries.equipment import equipment_with_use, use_of
from inventory.tables.studio import EquipmentTable, describe_use
from studio.kit.listing import ListingView

from .records import RecordCreate, RecordMixin, RecordUpdate


class EquipmentList(ListingView):
    template_name = "setup/equipment_list.html"
    title = "Equipment"
    lead = "What you cast with. Its wear is part of what a piece costs."
    table_class = EquipmentTable
    filterset_class = EquipmentFilter

    def get_queryset(self) -> Any:
        return equipment_with_use()

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        kinds = [
            (kind.label, reverse("inventory:equipment-new", args=[kind.value])) for kind in Equipment.Kind
        ]
        return super().get_context_data(kinds=kinds, **kwargs)


class _EquipmentMixin(RecordMixin):
    model = Equipment
    form_class = EquipmentForm
    list_name = "inventory:equipment-list"
    list_label = "Equipment"
    template_name = "setup/equipment.html"

    def get_kind(self) -> Equipment.Kind:
        raise NotImplementedError

    def get_form_kwargs(self) -> dict[str, Any]:
        return {**super().get_form_kwargs(), "kind": self.get_kind()}


class EquipmentCreate(_EquipmentMixin, RecordCreate):
    def get_kind(self) -> Equipment.Kind:
        try:
            return Equipment.Kind(self.kwargs["kind"])
        except ValueError as unknown:
            raise Http404 from unknown

    def get_title(self) -> str:
        return f"A new {self.get_kind().label}"


class EquipmentUpdate(_EquipmentMixin, RecordUpdate):
    def get_queryset(self) -> Any:
        return equipment_with_use()

    def get_kind(self) -> Equipment.Kind:
        return Equipment.Kind(self.object.kind)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        tool = self.object
        working = None
        if tool.diameter_um and tool.height_um:
            working = compute_flask_inside(tool.diameter_um, tool.height_um)[1]
        use = use_of(tool)
        return super().get_context_data(
            kind=self.get_kind(), use=use, use_words=describe_use(use), working=working, **kwargs
        )
