"""Filters above the lists of the set-up."""

from typing import Any

import django_filters
from django.db.models import QuerySet

from inventory.models import Equipment
from studio.kit.listing import ListFilter

SHOWN = [("away", "put away"), ("all", "all")]


class InUseFilter(ListFilter):
    """Shows what is in use unless the person asks for what was put away."""

    shown = django_filters.ChoiceFilter(label="Show", choices=SHOWN, empty_label="in use", method="pass_on")

    def pass_on(self, rows: "QuerySet[Any]", name: str, value: str) -> "QuerySet[Any]":
        return rows

    def filter_queryset(self, queryset: "QuerySet[Any]") -> "QuerySet[Any]":
        rows = super().filter_queryset(queryset)
        shown = self.form.cleaned_data.get("shown") or ""
        return rows if shown == "all" else rows.filter(archived=shown == "away")


class EquipmentFilter(InUseFilter):
    kind = django_filters.ChoiceFilter(label="Kind", choices=Equipment.Kind.choices, empty_label="every kind")
