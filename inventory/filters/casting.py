"""Filters above the lists of casts and pieces."""

from typing import Any

import django_filters
from django.db.models import Q, QuerySet

from inventory.models import Alloy, Cast, Customer, Piece
from inventory.queries.records import every
from studio.kit.fields import LINE_MAX
from studio.kit.listing import DayFilter, ListFilter


class CastFilter(ListFilter):
    words = django_filters.CharFilter(
        label="In the title", field_name="title", lookup_expr="icontains", max_length=LINE_MAX
    )
    state = django_filters.ChoiceFilter(
        label="Show",
        choices=[("open", "under way"), ("closed", "closed"), ("failed", "failed")],
        empty_label="all casts",
        method="by_state",
    )
    alloy = django_filters.ModelChoiceFilter(queryset=every(Alloy), empty_label="every alloy")
    owner = django_filters.ModelChoiceFilter(
        label="Metal of", queryset=every(Customer), empty_label="everybody", null_label="the studio"
    )
    since = DayFilter(label="From", field_name="day", lookup_expr="gte")
    until = DayFilter(label="Up to", field_name="day", lookup_expr="lte")

    def by_state(self, rows: "QuerySet[Any]", name: str, value: str) -> "QuerySet[Any]":
        if value == "open":
            return rows.filter(closed_on__isnull=True)
        if value == "failed":
            return rows.filter(outcome=Cast.Outcome.FAILED)
        return rows.filter(closed_on__isnull=False)


class PieceFilter(ListFilter):
    words = django_filters.CharFilter(
        label="In the name", field_name="name", lookup_expr="icontains", max_length=LINE_MAX
    )
    state = django_filters.ChoiceFilter(
        label="Show",
        choices=[("here", "everything here"), *Piece.State.choices],
        empty_label="all pieces",
        method="by_state",
    )
    alloy = django_filters.ModelChoiceFilter(
        label="Alloy", field_name="cast__alloy", queryset=every(Alloy), empty_label="every alloy"
    )
    owner = django_filters.ModelChoiceFilter(
        label="Metal of",
        field_name="cast__owner",
        queryset=every(Customer),
        empty_label="everybody",
        null_label="the studio",
    )
    cast = django_filters.NumberFilter(
        label="Cast number", field_name="cast__number", max_digits=9, decimal_places=0
    )

    def by_state(self, rows: "QuerySet[Any]", name: str, value: str) -> "QuerySet[Any]":
        if value == "here":
            return rows.filter(Q(state=Piece.State.CAST) | Q(state=Piece.State.FINISHED))
        return rows.filter(state=value)
