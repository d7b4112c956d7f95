"""Reads for the search box: what of each sort has all the words that were typed.

Each sort is one question, cut to what a page shows. Small and capital letters are alike as far as the database knows
them (SQLite: those of English), and every sign of a word stands for itself.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Count, Exists, Model, OuterRef, Q, QuerySet

from inventory.core.pieces import name_without_number
from inventory.core.searching import Term
from inventory.models import (
    Batch,
    Cast,
    Customer,
    Delivery,
    Design,
    Entry,
    Firing,
    Lot,
    Material,
    Offer,
    Order,
    Piece,
    Plan,
    PlanPart,
    Refiner,
    Supplier,
    Tin,
)
from studio.kit.models import only_one

from .casting_page import find_cast
from .ledger import stands
from .orders import orders
from .refining import batches
from .stock import standing_lots
from .tins import tins

SHOWN = 5
# Names of pieces that are read to make designs of them: "Larch cone charm 1" to "4" are one.
_MOST_NAMES = 60


def _has_part(text: str) -> Q:
    return Q(Exists(PlanPart.objects.filter(plan=OuterRef("pk"), label__icontains=text).order_by()))


def _has_noted_entry(text: str) -> Q:
    """Of pieces: what was noted when one was sold, say. Asked once and not for each piece: few entries have a piece."""
    noted = Entry.objects.filter(stands(), piece__isnull=False, note__icontains=text).order_by()
    return Q(pk__in=noted.values("piece"))


@dataclass(frozen=True)
class Sought:
    """Where a sort keeps its words, and where the number of a cast or a lot; `more` asks beyond its own row."""

    fields: Sequence[str]
    numbers: Mapping[str, str] = field(default_factory=dict)
    more: Callable[[str], Q] | None = None


SOUGHT: dict[type[Model], Sought] = {
    Cast: Sought(("title", "note", "pour_note", "alloy__name", "owner__name"), {"cast": "number"}),
    Piece: Sought(("name",), {"cast": "cast__number"}, _has_noted_entry),
    Lot: Sought(
        ("material__name", "supplier__name", "supplier_batch", "kept_in", "note", "owner__name"),
        {"lot": "pk", "cast": "from_cast__number"},
    ),
    Plan: Sought(("title", "note", "alloy__name", "owner__name"), {"cast": "cast__number"}, _has_part),
    Delivery: Sought(("reference", "supplier__name")),
    Offer: Sought(("material__name", "supplier__name", "note")),
    Order: Sought(("supplier__name", "reference", "note"), {"order": "pk"}),
    Firing: Sought(("kiln__name", "note")),
    Customer: Sought(("name", "contact")),
    Supplier: Sought(("name", "contact")),
    Refiner: Sought(("name", "contact")),
    Batch: Sought(("refiner__name", "reference", "alloy__metal", "owner__name"), {"batch": "pk"}),
    Material: Sought(("name", "supplier__name")),
    Design: Sought(("name", "collection", "note")),
    Tin: Sought(("name", "material__name", "owner__name")),
}


def with_words(rows: "QuerySet[Any]", terms: Sequence[Term]) -> "QuerySet[Any]":
    """Those rows of a sort in SOUGHT that have every term somewhere."""
    sought = SOUGHT[rows.model]
    for term in terms:
        rows = rows.filter(_has_term(sought, term))
    return rows


def _has_term(sought: Sought, term: Term) -> Q:
    found = Q()
    for name in sought.fields:
        found |= Q(**{f"{name}__icontains": term.text})
    if sought.more is not None:
        found |= sought.more(term.text)
    for of, path in sought.numbers.items():
        if term.number is not None and term.of in ("", of):
            found |= Q(**{path: term.number})
    return found


@dataclass(frozen=True)
class Named:
    """Pieces of one name that are of no design, whatever their numbers are."""

    name: str
    pieces: int


@dataclass(frozen=True)
class Found:
    """The first of a sort, and whether there are more."""

    rows: Sequence[Any]
    has_more: bool


ROWS: dict[str, Callable[[], "QuerySet[Any]"]] = {
    "cast": lambda: Cast.objects.select_related("alloy", "owner").order_by("-number"),
    "design": lambda: Design.objects.order_by("name"),
    "piece": lambda: _pieces().select_related("cast__alloy").order_by("-cast__number", "number"),
    "lot": lambda: standing_lots().order_by("-pk"),
    "tin": tins,
    "plan": lambda: Plan.objects.select_related("day", "cast").order_by("-day__wish_at", "-pk"),
    "delivery": lambda: Delivery.objects.select_related("supplier").order_by("-received_on", "-pk"),
    "order": orders,
    "firing": lambda: Firing.objects.select_related("kiln").order_by("-day", "-pk"),
    "customer": lambda: Customer.objects.order_by("name"),
    "supplier": lambda: Supplier.objects.order_by("name"),
    "batch": batches,
    "refiner": lambda: Refiner.objects.order_by("name"),
    "material": lambda: Material.objects.order_by("kind", "name"),
}
"""The rows of each sort, in the order in which a page shows them; another app adds its own, here and in SOUGHT."""


def search(terms: Sequence[Term]) -> dict[str, Found]:
    """What was found of each sort, under its name. One query for each."""
    found = {name: _cut(list(with_words(rows(), terms)[: SHOWN + 1])) for name, rows in ROWS.items()}
    first = {name: found.pop(name) for name in ("cast", "design")}
    return {**first, "name": _cut(_names(terms)), **found}


def _cut(rows: Sequence[Any]) -> Found:
    return Found(rows[:SHOWN], len(rows) > SHOWN)


def _pieces() -> QuerySet[Piece]:
    return Piece.objects.filter(void=False)


def _names(terms: Sequence[Term]) -> list[Named]:
    """By the words alone: a number is that of a cast or of one piece. The most often cast first."""
    words = [term for term in terms if term.number is None]
    if not words:
        return []
    named = _pieces().filter(design=None)
    for word in words:
        named = named.filter(name__icontains=word.text)
    names = named.order_by().values("name").annotate(count=Count("pk"))
    counts: dict[str, int] = {}
    for row in names.order_by("-count", "name")[:_MOST_NAMES]:
        name = name_without_number(row["name"])
        counts[name] = counts.get(name, 0) + row["count"]
    most = sorted(counts.items(), key=lambda one: (-one[1], one[0]))
    return [Named(name, count) for name, count in most]


def find_meant(terms: Sequence[Term]) -> Cast | Lot | Batch | None:
    """The one thing that was asked for by its number alone: "40" or "cast 40", "lot 93", "batch 3"; None else."""
    if len(terms) != 1 or terms[0].number is None:
        return None
    if terms[0].of == "lot":
        return only_one(standing_lots().filter(pk=terms[0].number))
    if terms[0].of == "batch":
        return only_one(batches().filter(pk=terms[0].number))
    return find_cast(terms[0].number)
