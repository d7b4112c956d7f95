"""Reads of stock counts: what there is to count and where, and what was found."""

from collections.abc import Collection
from datetime import date
from typing import Any

from django.db.models import BigIntegerField, Count, Exists, OuterRef, QuerySet
from django.db.models.functions import Coalesce

from inventory.models import CountLine, Entry, Lot, StockCount

from .ledger import stands
from .shelf import lots_here

#: As many as one walk along a shelf; more come on another page.
LOTS_A_SHEET = 40
_LOOKED_BACK = 12
_NAMED = ("holder", "material", "owner", "from_cast")


def lots_to_count(kept_in: str = "", kind: str = "") -> QuerySet[Lot]:
    """The lots that hold something, of one place or kind or of all, as somebody meets them along the shelves."""
    lots = lots_here().select_related(*_NAMED).order_by("kept_in", "material__kind", "material__name", "pk")
    if kept_in:
        lots = lots.filter(kept_in=kept_in)
    return lots.filter(material__kind=kind) if kind else lots


def lots_counted(keys: Collection[int]) -> list[Lot]:
    """Lots by their keys, also those that the book has empty, in the same order; those taken back are left out."""
    lots = Lot.objects.filter(pk__in=keys, void=False).select_related(*_NAMED)
    return list(lots.order_by("kept_in", "material__kind", "material__name", "pk"))


def places_kept_in() -> list[str]:
    """Where lots that hold something are kept."""
    return list(
        lots_here().exclude(kept_in="").order_by("kept_in").values_list("kept_in", flat=True).distinct()
    )


def taken_back_lines() -> QuerySet[CountLine]:
    """Lines whose difference was taken back: those that agreed, and those that were written again, still count."""
    # What is written again comes after it: so not every entry there is need be looked through.
    again = Entry.objects.filter(stands(), pk__gt=OuterRef("entry"), turn=OuterRef("first"))
    lines = CountLine.objects.filter(entry__reversed_by__isnull=False)
    return lines.annotate(first=Coalesce("entry__turn", "entry_id", output_field=BigIntegerField())).exclude(
        Exists(again)
    )


def last_count(until: date) -> tuple[StockCount, int, int] | None:
    """The latest stock count up to a day of which something stands: how many lots of it do, and how many differed.

    None without one, or where all of the newest were taken back. Three queries.
    """
    newest = StockCount.objects.filter(day__lte=until).order_by("-day", "-pk")[:_LOOKED_BACK]
    lines = CountLine.objects.filter(count__in=list(newest)).exclude(pk__in=taken_back_lines().values("pk"))
    by_count = lines.order_by("-count__day", "-count_id").values_list("count", "count__day")
    last = by_count.annotate(lots=Count("pk"), differing=Count("entry")).first()
    if last is None:
        return None
    return StockCount.objects.select_related("recorded_by").get(pk=last[0]), last[2], last[3]


def stock_counts() -> QuerySet[StockCount]:
    """Counts, newest first, each with the number of its `lots` and of those `differing`."""
    return StockCount.objects.annotate(lots=Count("lines"), differing=Count("lines__entry")).select_related(
        "recorded_by"
    )


def lines_of(count: StockCount) -> "QuerySet[Any]":
    """The lines of a count in their order, each with `is_back`: whether what it put right was taken back."""
    named = [f"lot__{name}" for name in _NAMED]
    back = taken_back_lines().filter(pk=OuterRef("pk"))
    return count.lines.select_related(*named, "entry").annotate(is_back=Exists(back)).order_by("pk")
