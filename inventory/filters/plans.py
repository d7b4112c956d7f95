"""Filters above the list of plans."""

from typing import Any

import django_filters
from django.db.models import QuerySet

from inventory.models import Alloy
from inventory.queries.records import every
from studio.kit.fields import LINE_MAX
from studio.kit.listing import ListFilter


class PlanFilter(ListFilter):
    words = django_filters.CharFilter(
        label="In the title", field_name="title", lookup_expr="icontains", max_length=LINE_MAX
    )
    state = django_filters.ChoiceFilter(
        label="Show",
        choices=[("open", "open"), ("begun", "begun"), ("dropped", "given up")],
        empty_label="all plans",
        method="by_state",
    )
    alloy = django_filters.ModelChoiceFilter(queryset=every(Alloy), empty_label="every alloy")

    def by_state(self, rows: "QuerySet[Any]", name: str, value: str) -> "QuerySet[Any]":
        if value == "begun":
            return rows.filter(cast__isnull=False)
        if value == "dropped":
            return rows.filter(dropped=True)
        return rows.filter(cast__isnull=True, dropped=False)
