"""Reads of stock counts: what there is to count and where, and what was found."""

from collections.abc import Collection

from django.db.models import Count, QuerySet

from inventory.models import CountLine, Lot, StockCount

from .shelf import lots_here

#: As many as one walk along a shelf; more come on another page.
LOTS_A_SHEET = 40
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


def stock_counts() -> QuerySet[StockCount]:
    """Counts, newest first, each with the number of its `lots` and of those `differing`."""
    return StockCount.objects.annotate(lots=Count("lines"), differing=Count("lines__entry")).select_related(
        "recorded_by"
    )


def lines_of(count: StockCount) -> QuerySet[CountLine]:
    named = [f"lot__{name}" for name in _NAMED]
    return count.lines.select_related(*named, "entry__reversed_by").order_by("pk")
