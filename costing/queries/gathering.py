"""What the ledger and the bench notes say of many casts at once: grams, pieces, minutes."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

from django.db.models import Sum

from inventory.core.ledger import Amount
from inventory.models import BenchTime, Entry, Material, Movement, Piece
from inventory.queries.cast_metal import PIECES, CastMetal, Moved, follow_metal
from inventory.queries.ledger import STANDING


@dataclass
class CastStock:
    """What the ledger says of one cast: where its metal is, and what else it took from stock, in millionths."""

    moved: list[Moved] = field(default_factory=list)
    pattern_micro: int = 0
    used_micro: int = 0
    pieces: dict[int, Amount] = field(default_factory=lambda: defaultdict(Amount))
    piece_used_micro: dict[int, int] = field(default_factory=lambda: defaultdict(int))

    @cached_property
    def metal(self) -> dict[str, Amount]:
        return CastMetal(tuple(self.moved)).now


def gather_stock(cast_ids: Sequence[int]) -> dict[int, CastStock]:
    gathered: dict[int, CastStock] = defaultdict(CastStock)
    rows = follow_metal(Movement.objects.filter(STANDING, entry__cast__in=cast_ids)).values_list(
        "entry__cast_id",
        "entry__kind",
        "entry__piece_id",
        "source_id",
        "target_id",
        "into",
        "out_of",
        "quantity",
        "fine_ug",
        "cost_micro",
    )
    for cast_id, kind, piece_id, source, target, into, out_of, *numbers in rows:
        stock, amount = gathered[cast_id], Amount(*numbers)
        if kind == Entry.Kind.TREE:
            stock.pattern_micro += amount.cost_micro
        elif kind == Entry.Kind.USE and piece_id:
            stock.piece_used_micro[piece_id] += amount.cost_micro
        elif kind == Entry.Kind.USE:
            stock.used_micro += amount.cost_micro
        else:
            stock.moved.append(Moved(kind, into, out_of, 1, *numbers))
        if into == PIECES:
            stock.pieces[target] += amount
        if out_of == PIECES:
            stock.pieces[source] -= amount
    return gathered


def gather_pieces(cast_ids: Sequence[int]) -> dict[int, list[Piece]]:
    gathered: dict[int, list[Piece]] = defaultdict(list)
    pieces = list(Piece.objects.filter(cast__in=cast_ids, void=False).order_by("cast", "number"))
    # A studio has a handful of pattern materials and thousands of pieces: each material is read once.
    materials = Material.objects.in_bulk({piece.pattern_material_id for piece in pieces} - {None})
    for piece in pieces:
        piece.pattern_material = materials.get(piece.pattern_material_id)
        gathered[piece.cast_id].append(piece)
    return gathered


def gather_minutes(cast_ids: Sequence[int]) -> dict[tuple[int, int | None], int]:
    """Bench minutes by (cast, piece), piece None for time on the cast as a whole."""
    rows = BenchTime.objects.filter(cast__in=cast_ids).values_list("cast_id", "piece_id")
    return {(cast, piece): total for cast, piece, total in rows.annotate(total=Sum("minutes")).order_by()}
