"""What the ledger and the bench notes say of many casts at once: grams, pieces, minutes."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

from django.db.models import Sum

from inventory.core.ledger import Amount
from inventory.models import BenchTime, Entry, Holder, Material, Movement, Piece
from inventory.queries.ledger import STANDING


@dataclass
class Grams:
    """What the ledger says of one cast, gathered from its movements."""

    charge: Amount = field(default_factory=Amount)
    back: Amount = field(default_factory=Amount)
    lost: Amount = field(default_factory=Amount)
    powder_micro: int = 0
    pattern_micro: int = 0
    used_micro: int = 0
    pieces: dict[int, Amount] = field(default_factory=lambda: defaultdict(Amount))
    piece_used_micro: dict[int, int] = field(default_factory=lambda: defaultdict(int))


def gather_grams(cast_ids: Sequence[int]) -> dict[int, Grams]:
    gathered: dict[int, Grams] = defaultdict(Grams)
    rows = (
        Movement.objects.filter(STANDING, entry__cast__in=cast_ids)
        .exclude(entry__kind=Entry.Kind.SALE)
        .values_list(
            "entry__cast_id",
            "entry__kind",
            "entry__piece_id",
            "source_id",
            "target_id",
            "source__kind",
            "target__kind",
            "target__place",
            "quantity",
            "fine_ug",
            "cost_micro",
        )
    )
    for cast_id, kind, piece_id, source, target, source_kind, target_kind, place, *numbers in rows:
        grams, amount = gathered[cast_id], Amount(*numbers)
        if kind == Entry.Kind.POWDER:
            grams.powder_micro += amount.cost_micro
        elif kind == Entry.Kind.TREE:
            grams.pattern_micro += amount.cost_micro
        elif kind == Entry.Kind.USE and piece_id:
            grams.piece_used_micro[piece_id] += amount.cost_micro
        elif kind == Entry.Kind.USE:
            grams.used_micro += amount.cost_micro
        elif kind == Entry.Kind.CHARGE:
            grams.charge += amount if target_kind == Holder.Kind.CRUCIBLE else Amount()
        else:
            _follow_metal(grams, amount, (source, source_kind), (target, target_kind), place)
    return gathered


def _follow_metal(
    grams: Grams, amount: Amount, source: tuple[int, str], target: tuple[int, str], target_place: str
) -> None:
    """After the charge: metal enters a piece, the tin or "lost", and leaves a piece or "lost" again."""
    if source[1] == Holder.Kind.PIECE:
        grams.pieces[source[0]] -= amount
    elif source[1] == Holder.Kind.OUTSIDE:
        grams.lost -= amount
    if target[1] == Holder.Kind.PIECE:
        grams.pieces[target[0]] += amount
    elif target[1] == Holder.Kind.LOT:
        grams.back += amount
    elif target_place == Holder.Place.LOST:
        grams.lost += amount


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
