"""Every kind of entry, said once: where its lines may lead, and what goes back with it when it is reversed.

Reversal, the audit, the races of two hands and the random histories find a kind here. A new kind of entry is a line
in this table, a function that posts it, and a hand in the tests.
"""

from collections.abc import Callable
from dataclasses import dataclass

from django.db.models import Q

from inventory.models import Cast, Entry, Holder, Piece
from inventory.queries.ledger import standing_entries

Kind = Entry.Kind
State = Piece.State

_LOT, _CRUCIBLE, _PIECE = (kind.value for kind in (Holder.Kind.LOT, Holder.Kind.CRUCIBLE, Holder.Kind.PIECE))
_LOST, _USED = Holder.Place.LOST.value, Holder.Place.USED.value


def _reopen_cast(entry: Entry) -> None:
    Cast.objects.filter(entries=entry).update(closed_on=None, outcome="")


def _restore_pieces(entry: Entry) -> None:
    """Each piece of an entry goes back to the state of its last standing entry."""
    kinds = [kind for kind, declared in KINDS.items() if declared.leaves_piece]
    moved = Q(holder__movements_out__entry=entry) | Q(holder__movements_in__entry=entry)
    for piece in Piece.objects.filter(moved).select_related("entry").distinct():
        touched = Q(movements__source=piece.holder_id) | Q(movements__target=piece.holder_id)
        standing = standing_entries().filter(touched, kind__in=kinds).exclude(pk=entry.pk)
        last = standing.order_by("-pk").first()
        if last is not None:
            piece.state, piece.state_on = KINDS[Kind(last.kind)].leaves_piece, last.day
        elif piece.finished_whole_on is not None:
            piece.state, piece.state_on = State.FINISHED, piece.finished_whole_on
        else:
            piece.state, piece.state_on = State.CAST, piece.entry.day
        piece.save(update_fields=["state", "state_on"])


@dataclass(frozen=True)
class Declared:
    """One kind of entry.

    `ends` are (source, target) of its lines: a sort of holder, or a place of the outside world. `leaves_piece` is
    the state of a piece after it; `undo` takes back what is not a line of it.
    """

    ends: frozenset[tuple[str, str]]
    leaves_piece: str = ""
    undo: Callable[[Entry], None] | None = None


def _declare(
    *ends: tuple[str, str], leaves_piece: str = "", undo: Callable[[Entry], None] | None = None
) -> Declared:
    return Declared(frozenset(ends), leaves_piece, _restore_pieces if leaves_piece else undo)


KINDS: dict[Kind, Declared] = {
    Kind.DELIVERY: _declare((Holder.Place.SUPPLIER, _LOT)),
    Kind.OPENING: _declare((Holder.Place.OPENING, _LOT)),
    Kind.HANDED_IN: _declare((Holder.Place.CUSTOMER, _LOT)),
    Kind.LATE_BILL: _declare((Holder.Place.SUPPLIER, _LOT), (Holder.Place.SUPPLIER, Holder.Place.LATE)),
    Kind.TREE: _declare((_LOT, _USED)),
    Kind.POWDER: _declare((_LOT, _USED)),
    Kind.CHARGE: _declare((_LOT, _CRUCIBLE), (_CRUCIBLE, Holder.Place.ALLOYED)),
    # A scale that shows a hair more than went in takes it out of "lost" again.
    Kind.CLOSE: _declare(
        (_CRUCIBLE, _PIECE), (_CRUCIBLE, _LOT), (_CRUCIBLE, _LOST), (_LOST, _CRUCIBLE), undo=_reopen_cast
    ),
    Kind.FINISH: _declare((_PIECE, _LOT), (_PIECE, _LOST), (_LOST, _PIECE), leaves_piece=State.FINISHED),
    Kind.MELT_BACK: _declare((_PIECE, _LOT), leaves_piece=State.MELTED),
    Kind.SALE: _declare((_PIECE, Holder.Place.CUSTOMER), leaves_piece=State.SOLD),
    Kind.USE: _declare((_LOT, _USED)),
    Kind.COUNT: _declare((_LOT, Holder.Place.COUNTED), (Holder.Place.COUNTED, _LOT)),
    Kind.SCRAP: _declare((_LOT, Holder.Place.SCRAPPED)),
    Kind.HAND_BACK: _declare((_LOT, Holder.Place.CUSTOMER)),
    Kind.FOUND: _declare((_LOST, _LOT)),
}
