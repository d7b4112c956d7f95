"""Filters above the lists of lots and materials."""

from datetime import timedelta
from typing import Any

import django_filters
from django.db.models import QuerySet
from django.utils import timezone

from inventory.models import Alloy, Customer, Lot, Material
from inventory.queries.records import every
from inventory.queries.shelf import ON_HAND
from studio.kit.listing import ListFilter

from .studio import InUseFilter

_SOON_DAYS = 30


class LotFilter(ListFilter):
    """Shows lots with something left unless the person asks for all."""

    show = django_filters.ChoiceFilter(
        label="Show", choices=[("all", "all lots")], empty_label="with something left", method="pass_on"
    )
    kind = django_filters.ChoiceFilter(
        field_name="material__kind", label="Kind", choices=Material.Kind.choices, empty_label="every kind"
    )
    material = django_filters.ModelChoiceFilter(
        label="Material", queryset=every(Material), empty_label="every material"
    )
    alloy = django_filters.ModelChoiceFilter(
        field_name="material__alloy", label="Alloy", queryset=every(Alloy), empty_label="every alloy"
    )
    origin = django_filters.ChoiceFilter(
        label="Origin", choices=Lot.Origin.choices, empty_label="every origin"
    )
    owner = django_filters.ModelChoiceFilter(
        label="Whose",
        queryset=every(Customer),
        empty_label="everyone's",
        null_label="the studio's own",
    )
    expiry = django_filters.ChoiceFilter(
        label="Use by",
        choices=[("stale", "out of date"), ("soon", f"within {_SOON_DAYS} days"), ("none", "no date")],
        empty_label="any day",
        method="by_expiry",
    )

    def pass_on(self, rows: "QuerySet[Any]", name: str, value: str) -> "QuerySet[Any]":
        return rows

    def by_expiry(self, rows: "QuerySet[Any]", name: str, value: str) -> "QuerySet[Any]":
        today = timezone.localdate()
        if value == "stale":
            return rows.filter(use_by__lt=today)
        if value == "soon":
            return rows.filter(use_by__range=(today, today + timedelta(days=_SOON_DAYS)))
        return rows.filter(use_by__isnull=True)

    def filter_queryset(self, queryset: "QuerySet[Any]") -> "QuerySet[Any]":
        rows = super().filter_queryset(queryset)
        return rows if self.form.cleaned_data.get("show") == "all" else rows.filter(ON_HAND)


class MaterialFilter(InUseFilter):
    kind = django_filters.ChoiceFilter(label="Kind", choices=Material.Kind.choices, empty_label="every kind")
