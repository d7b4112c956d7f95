"""Reads of which cast or piece is asked about."""

from inventory.models import Cast, Piece


def latest_closed_cast() -> Cast | None:
    return Cast.objects.filter(closed_on__isnull=False).order_by("-day", "-number").first()


def find_cast(number: int) -> Cast | None:
    return Cast.objects.select_related("alloy", "owner").filter(number=number).first()


def find_piece(pk: int) -> Piece | None:
    return Piece.objects.select_related("cast__alloy", "cast__owner").filter(pk=pk, void=False).first()
