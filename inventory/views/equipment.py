"""Kilns, flasks, crucibles, casting machines and pumps."""

from typing import Any

from django.http import Http404
from django.urls import URLPattern, reverse

from inventory.core.flask import compute_flask_inside
from inventory.filters import EquipmentFilter
from inventory.forms.equipment import EquipmentForm
from inventory.forms.sheet import Sheet
from inventory.models import Equipment
from inventory.queries.equipment import equipment_with_use, use_of
from inventory.tables.studio import EquipmentTable, describe_use

from .records import RecordPages


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
