"""Filters above the lists, by subject."""

from datetime import timedelta
from typing import Any

import django_filters
from django.db.models import Model, Q, QuerySet
from django.utils import timezone

from inventory.core.searching import read_terms
from inventory.models import Alloy, Cast, Customer, Entry, Equipment, Lot, Material, Piece, Refiner, Supplier
from inventory.queries.ledger import stands
from inventory.queries.pieces import HERE
from inventory.queries.search import with_words
from inventory.queries.setup import every
from inventory.queries.shelf import ON_HAND
from studio.kit.fields import LINE_MAX, CountField
from studio.kit.listing import DayFilter, ListFilter

_SOON_DAYS = 30


def _choose(label: str | None, choices: Any, empty_label: str, **more: Any) -> django_filters.ChoiceFilter:
    return django_filters.ChoiceFilter(label=label, choices=choices, empty_label=empty_label, **more)


def _among(
    model: type[Model], empty_label: str, label: str | None = None, **more: Any
) -> django_filters.ModelChoiceFilter:
    """Everything of a model to choose from, also what was put away."""
    return django_filters.ModelChoiceFilter(
        label=label, queryset=every(model), empty_label=empty_label, **more
    )


class WordsFilter(django_filters.CharFilter):
    """Words and numbers as the search box takes them: all of them must be there."""

    def __init__(self) -> None:
        super().__init__(label="Words", max_length=LINE_MAX)

    def filter(self, rows: "QuerySet[Any]", value: str) -> "QuerySet[Any]":
        return with_words(rows, read_terms(value or ""))


def _from_day(field_name: str = "day", label: str = "From") -> DayFilter:
    return DayFilter(label=label, field_name=field_name, lookup_expr="gte")


def _to_day(field_name: str = "day") -> DayFilter:
    return DayFilter(label="Up to", field_name=field_name, lookup_expr="lte")


class _StateFilter(django_filters.ChoiceFilter):
    """A choice of states: each has its value, its word, and what it asks of a row."""

    def __init__(self, label: str, empty_label: str, *states: tuple[str, str, Q]) -> None:
        self.asked = {value: asked for value, _, asked in states}
        choices = [(value, word) for value, word, _ in states]
        super().__init__(label=label, choices=choices, empty_label=empty_label)

    def filter(self, rows: "QuerySet[Any]", value: str) -> "QuerySet[Any]":
        return rows.filter(self.asked[value]) if value else rows


class CountFilter(django_filters.Filter):
    field_class = CountField


class InUseFilter(ListFilter):
    """Shows what is in use unless the person asks for what was put away."""

    shown = _choose("Show", [("away", "put away"), ("all", "all")], "in use", method="pass_on")

    def pass_on(self, rows: "QuerySet[Any]", name: str, value: str) -> "QuerySet[Any]":
        return rows

    def filter_queryset(self, queryset: "QuerySet[Any]") -> "QuerySet[Any]":
        rows = super().filter_queryset(queryset)
        shown = self.form.cleaned_data.get("shown") or ""
        return rows if shown == "all" else rows.filter(archived=shown == "away")


class WordsOnlyFilter(ListFilter):
    words = WordsFilter()


class WordsInUseFilter(InUseFilter):
    words = WordsFilter()


class EquipmentFilter(InUseFilter):
    kind = _choose("Kind", Equipment.Kind.choices, "every kind")


class MaterialFilter(InUseFilter):
    words = WordsFilter()
    kind = _choose("Kind", Material.Kind.choices, "every kind")


class LotFilter(ListFilter):
    """Shows lots with something left unless the person asks for all."""

    words = WordsFilter()
    show = _choose("Show", [("all", "all lots")], "with something left", method="pass_on")
    kind = _choose("Kind", Material.Kind.choices, "every kind", field_name="material__kind")
    material = _among(Material, "every material", "Material")
    alloy = _among(Alloy, "every alloy", "Alloy", field_name="material__alloy")
    origin = _choose("Origin", Lot.Origin.choices, "every origin")
    owner = _among(Customer, "everyone's", "Whose", null_label="the studio's own")
    expiry = _choose(
        "Use by",
        [("stale", "out of date"), ("soon", f"within {_SOON_DAYS} days"), ("none", "no date")],
        "any day",
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


class DeliveryFilter(ListFilter):
    words = WordsFilter()
    supplier = _among(Supplier, "every supplier", "From")
    first = _from_day("received_on", "Came from")
    last = _to_day("received_on")


class BatchFilter(ListFilter):
    words = WordsFilter()
    state = _StateFilter(
        "Show",
        "all batches",
        ("here", "at the refiner", Q(holder__quantity__gt=0)),
        ("done", "settled or sent back", Q(holder__quantity=0)),
    )
    refiner = _among(Refiner, "every refiner", "Refiner")
    since, until = _from_day("sent_on", "Sent from"), _to_day("sent_on")


class OfferFilter(InUseFilter):
    words = WordsFilter()
    material = _among(Material, "every material", "Material")
    supplier = _among(Supplier, "every supplier", "Supplier")


class OrderFilter(ListFilter):
    words = WordsFilter()
    state = _StateFilter(
        "Show",
        "all orders",
        ("open", "still to come", Q(is_open=True)),
        ("done", "came or struck out", Q(is_open=False)),
    )
    supplier = _among(Supplier, "every supplier", "Supplier")
    since, until = _from_day("placed_on", "Ordered from"), _to_day("placed_on")


class FiringFilter(ListFilter):
    words = WordsFilter()
    kiln = django_filters.ModelChoiceFilter(
        label="Kiln", queryset=every(Equipment).filter(kind=Equipment.Kind.KILN), empty_label="every kiln"
    )
    from_day, to_day = _from_day(), _to_day()


class CastFilter(ListFilter):
    words = WordsFilter()
    state = _StateFilter(
        "Show",
        "all casts",
        ("open", "under way", Q(closed_on__isnull=True)),
        ("closed", "closed", Q(closed_on__isnull=False)),
        ("failed", "failed", Q(outcome=Cast.Outcome.FAILED)),
    )
    alloy = _among(Alloy, "every alloy")
    owner = _among(Customer, "everybody", "Metal of", null_label="the studio")
    since, until = _from_day(), _to_day()


class PieceFilter(ListFilter):
    words = WordsFilter()
    state = _StateFilter(
        "Show",
        "all pieces",
        ("here", "everything here", Q(state__in=HERE)),
        *((value, word, Q(state=value)) for value, word in Piece.State.choices),
    )
    alloy = _among(Alloy, "every alloy", "Alloy", field_name="cast__alloy")
    owner = _among(Customer, "everybody", "Metal of", field_name="cast__owner", null_label="the studio")
    cast = django_filters.NumberFilter(
        label="Cast number", field_name="cast__number", max_digits=9, decimal_places=0
    )


class PlanFilter(ListFilter):
    words = WordsFilter()
    state = _StateFilter(
        "Show",
        "all plans",
        ("open", "open", Q(cast__isnull=True, dropped=False)),
        ("begun", "begun", Q(cast__isnull=False)),
        ("dropped", "given up", Q(dropped=True)),
    )
    alloy = _among(Alloy, "every alloy")


class EntryFilter(ListFilter):
    kind = _choose("What", Entry.Kind.choices, "everything")
    from_day, to_day = _from_day(), _to_day()
    cast = CountFilter(label="Cast number", field_name="cast__number")
    standing = _StateFilter(
        "Those taken back",
        "shown too",
        ("without", "left out", stands()),
        ("only", "only those", ~stands()),
    )
