"""What is asked for things, and what was."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence

from django.db.models import Exists, OuterRef, QuerySet, Subquery

from costing.models import AskedPrice
from inventory.models import Design, Piece
from inventory.queries.designs import designs_costed
from inventory.queries.pieces import HERE, standing_pieces


def newest_asked(pieces: Collection[int]) -> dict[int, AskedPrice]:
    """The price that is asked for each of these pieces, by piece; without those that have none. One query."""
    return {row.piece_id: row for row in _newest("piece", pieces) if row.piece_id is not None}


def newest_asked_of_designs(designs: Collection[int]) -> dict[int, AskedPrice]:
    """The price that is asked for each of these designs, by design; without those that have none. One query."""
    rows = _newest("design", designs).select_related("design")
    return {row.design_id: row for row in rows if row.design_id is not None}


def _newest(thing: str, keys: Collection[int]) -> QuerySet[AskedPrice]:
    newest = AskedPrice.objects.filter(**{thing: OuterRef(thing)}).order_by("-day", "-id")
    return AskedPrice.objects.filter(**{f"{thing}__in": keys}, pk=Subquery(newest.values("pk")[:1]))


def offered_by_designs(pieces: Iterable[Piece]) -> dict[int, int]:
    """What is asked for their designs, in millionths by piece: of pieces in what their design is usually cast in.

    Pieces come with their cast. One query.
    """
    rows = list(pieces)
    asked = newest_asked_of_designs({piece.design_id for piece in rows if piece.design_id})
    found = ((piece, asked.get(piece.design_id or 0)) for piece in rows)
    return {
        piece.pk: one.price_micro
        for piece, one in found
        if one is not None and one.design is not None and one.design.alloy_id == piece.cast.alloy_id
    }


def asked_or_offered(pieces: Sequence[Piece]) -> dict[int, int]:
    """What is asked for each piece, or for its design where nothing is asked for the piece. Two queries."""
    asked = newest_asked([piece.pk for piece in pieces])
    return offered_by_designs(pieces) | {key: one.price_micro for key, one in asked.items()}


def asked_history(thing: Piece | Design) -> QuerySet[AskedPrice]:
    """Every price that was asked for a piece or a design, newest first."""
    return thing.asked_prices.select_related("recorded_by").order_by("-day", "-id")


def designs_to_price() -> QuerySet[Design]:
    """Designs in use of which it is said what they are usually cast in, with all that their cost is made of."""
    return designs_costed().filter(archived=False, alloy__isnull=False).order_by("name")


def designs_asked() -> QuerySet[Design]:
    """Those that something is asked for."""
    return designs_to_price().filter(Exists(AskedPrice.objects.filter(design=OuterRef("pk"))))


def pieces_to_sell() -> QuerySet[Piece]:
    """Pieces of the studio's own metal that are still here, newest cast first."""
    return _pieces_here().filter(cast__owner=None)


def pieces_of_customers() -> QuerySet[Piece]:
    """Pieces of customers' own metal that are still here: cast for them, and not for sale."""
    return _pieces_here().filter(cast__owner__isnull=False).select_related("cast__owner")


def _pieces_here() -> QuerySet[Piece]:
    here = standing_pieces().filter(state__in=HERE, cast__closed_on__isnull=False)
    # What is here holds metal: it is found among what is here, not among all pieces that ever were.
    return here.filter(holder__kind="piece", holder__quantity__gt=0).order_by("-cast__number", "number")


def castings_kept(casts: Collection[int]) -> dict[int, dict[int, int]]:
    """The good castings of each of these casts, in milligrams as cast by piece. One query."""
    pieces = Piece.objects.filter(void=False, cast__in=casts).exclude(state=Piece.State.MELTED)
    found: dict[int, dict[int, int]] = defaultdict(dict)
    for cast, piece, mass_mg in pieces.order_by("cast", "number").values_list("cast", "pk", "as_cast_mg"):
        found[cast][piece] = mass_mg
    return found


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
