"""What is asked for things, and what was."""

from collections.abc import Collection

from django.db.models import OuterRef, QuerySet, Subquery

from costing.models import AskedPrice
from inventory.models import Piece
from inventory.queries.pieces import HERE, standing_pieces


def newest_asked(pieces: Collection[int]) -> dict[int, AskedPrice]:
    """The price that is asked for each of these pieces, by piece; without those that have none. One query."""
    newest = AskedPrice.objects.filter(piece=OuterRef("piece")).order_by("-day", "-id")
    rows = AskedPrice.objects.filter(piece__in=pieces, pk=Subquery(newest.values("pk")[:1]))
    return {row.piece_id: row for row in rows if row.piece_id is not None}


def asked_history(piece: Piece) -> QuerySet[AskedPrice]:
    """Every price that was asked for a piece, newest first."""
    return piece.asked_prices.select_related("recorded_by").order_by("-day", "-id")


def pieces_to_sell() -> QuerySet[Piece]:
    """Pieces of the studio's own metal that are still here, newest cast first."""
    here = standing_pieces().filter(state__in=HERE, cast__owner=None, cast__closed_on__isnull=False)
    # What is here holds metal: it is found among what is here, not among all pieces that ever were.
    return here.filter(holder__kind="piece", holder__quantity__gt=0).order_by("-cast__number", "number")


def asked_to_sell(collection: str = "") -> list[tuple[Piece, int]]:
    """What is here to sell and what is asked for it, in millionths; of one collection, if it is named."""
    pieces = pieces_to_sell().select_related("cast__alloy", "holder", "design")
    if collection:
        pieces = pieces.filter(design__collection=collection)
    found = list(pieces)
    asked = newest_asked([piece.pk for piece in found])
    return [(piece, asked[piece.pk].price_micro) for piece in found if piece.pk in asked]


def collections_to_sell() -> list[str]:
    """The names of the collections of which something is here."""
    names = pieces_to_sell().exclude(design=None).exclude(design__collection="")
    return sorted(set(names.order_by().values_list("design__collection", flat=True)))
