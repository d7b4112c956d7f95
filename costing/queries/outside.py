"""Reads of work and parts from outside."""

from django.db.models import Count, QuerySet

from costing.models import OutsideWork
from inventory.models import Cast, Piece, Supplier
from inventory.queries.setup import every, in_use

MOST_PIECES = 400


def outside_works() -> QuerySet[OutsideWork]:
    """With the number of pieces that carry each."""
    return every(OutsideWork).select_related("supplier").annotate(carried=Count("shares"))


def pieces_to_charge(work: OutsideWork | None = None) -> QuerySet[Piece]:
    """The pieces of the latest casts, and those that carry the record already."""
    latest = Piece.objects.filter(void=False, cast__outcome=Cast.Outcome.GOOD).order_by("-pk")
    keys = list(latest.values_list("pk", flat=True)[:MOST_PIECES])
    if work is not None and work.pk:
        keys += work.shares.values_list("piece", flat=True)
    return Piece.objects.filter(pk__in=keys).select_related("cast").order_by("-cast__number", "number")


def suppliers_in_use(now: int | None = None) -> QuerySet[Supplier]:
    return in_use(Supplier, now)
