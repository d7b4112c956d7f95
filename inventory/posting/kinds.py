"""Every kind of entry, said once: where its lines may lead, and what goes back with it when it is reversed.

Reversal, mending, the audit, the races of two hands and the random histories find a kind here. A new kind of entry is
a line in this table, a function that posts it, and a hand in the tests.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django.db.models import Q
from django.db.models.functions import Coalesce

from inventory.models import Cast, Entry, Holder, Piece
from inventory.queries.ledger import TURN, standing_entries
from inventory.queries.pieces import state_when_here

from . import again as how
from .again import Again
from .assaying import forget, renew_knowing

Kind = Entry.Kind
#: What brings a lot in from outside, counted at the fineness of its alloy, and draws on nothing that is here.
ARRIVALS = (Kind.DELIVERY, Kind.OPENING, Kind.HANDED_IN)
Entries = Sequence[Entry]
Undo = Callable[[Entries, Entries], None]
State = Piece.State

_LOT, _CRUCIBLE, _PIECE = (kind.value for kind in (Holder.Kind.LOT, Holder.Kind.CRUCIBLE, Holder.Kind.PIECE))
_BATCH = Holder.Kind.BATCH.value
_LOST, _USED = Holder.Place.LOST.value, Holder.Place.USED.value


def _reopen_casts(entries: Entries, gone: Entries) -> None:
    """A cast whose charge missed its alloy is again the one that it was meant to be."""
    meant = Coalesce("meant_alloy", "alloy")
    Cast.objects.filter(entries__in=entries).update(closed_on=None, outcome="", alloy=meant, meant_alloy=None)


def _forget_portions(entries: Entries, gone: Entries) -> None:
    """What is left in a crucible may be better known than all that was."""
    unsure = Q(fineness_is_guess=True) | Q(fine_low_ug__isnull=False)
    if Cast.objects.filter(unsure, entries__in=entries).exists():
        renew_knowing(gone)


def _restore_pieces(entries: Entries, gone: Entries) -> None:
    """Each piece of some entries goes back to the state of its last entry that stands when all of `gone` are gone."""
    kinds = [kind for kind, declared in KINDS.items() if declared.leaves_piece]
    keys = [entry.pk for entry in entries]
    moved = Q(holder__movements_out__entry__in=keys) | Q(holder__movements_in__entry__in=keys)
    for piece in Piece.objects.filter(moved).select_related("entry", "cast").distinct():
        touched = Q(movements__source=piece.holder_id) | Q(movements__target=piece.holder_id)
        standing = (
            standing_entries().filter(touched, kind__in=kinds).exclude(pk__in=[entry.pk for entry in gone])
        )
        last = standing.order_by(TURN.desc(), "-pk").first()
        if last is None:
            piece.state = State.CAST if piece.finished_whole_on is None else State.FINISHED
            piece.state_on = piece.finished_whole_on or piece.entry.day
        else:
            piece.state_on = last.day
            piece.state = (
                state_when_here(piece) if last.kind == Kind.RETURN else KINDS[Kind(last.kind)].leaves_piece
            )
            if piece.state == State.SOLD and piece.cast.owner_id is not None:
                piece.state = State.HANDED
        piece.save(update_fields=["state", "state_on"])


@dataclass(frozen=True)
class Declared:
    """One kind of entry.

    `ends` are (source, target) of its lines: a sort of holder, or a place of the outside world. `leaves_piece` is
    the state of a piece after it; `again` says how it is written again when something before it was mended; `undo`
    takes back what is not a line of it.
    """

    ends: frozenset[tuple[str, str]]
    leaves_piece: str
    again: Again
    undo: Undo | None = None


def _declare(
    again: Again,
    *ends: tuple[str, str],
    leaves_piece: str = "",
    undo: Undo | None = None,
) -> Declared:
    return Declared(frozenset(ends), leaves_piece, again, _restore_pieces if leaves_piece else undo)


def _both_ways(place: str, held: str) -> tuple[tuple[str, str], tuple[str, str]]:
    return (held, place), (place, held)


_ASSAY = Holder.Place.ASSAY.value
_SUPPLIER, _LATE = Holder.Place.SUPPLIER.value, Holder.Place.LATE.value
_REFINER, _REF_LOST = Holder.Place.REFINER.value, Holder.Place.REF_LOST.value
_REF_ASSAY = Holder.Place.REF_ASSAY.value

KINDS: dict[Kind, Declared] = {
    Kind.DELIVERY: _declare(how.BOUGHT, (_SUPPLIER, _LOT)),
    Kind.OPENING: _declare(how.OPENED, (Holder.Place.OPENING, _LOT)),
    Kind.HANDED_IN: _declare(how.HANDED_IN, (Holder.Place.CUSTOMER, _LOT)),
    # A bill that came to less takes the difference back the way it came.
    Kind.LATE_BILL: _declare(
        how.BILLED, (_SUPPLIER, _LOT), (_SUPPLIER, _LATE), (_LOT, _SUPPLIER), (_LATE, _SUPPLIER)
    ),
    Kind.TREE: _declare(how.TREE, (_LOT, _USED)),
    Kind.POWDER: _declare(how.POWDER, (_LOT, _USED)),
    Kind.CHARGE: _declare(
        how.CHARGE, (_LOT, _CRUCIBLE), (_CRUCIBLE, Holder.Place.ALLOYED), undo=_forget_portions
    ),
    # A scale that shows a hair more than went in takes it out of "lost" again.
    Kind.CLOSE: _declare(
        how.CLOSED,
        (_CRUCIBLE, _PIECE),
        (_CRUCIBLE, _LOT),
        (_CRUCIBLE, _LOST),
        (_LOST, _CRUCIBLE),
        undo=_reopen_casts,
    ),
    Kind.FINISH: _declare(
        how.FINISHED, (_PIECE, _LOT), (_PIECE, _LOST), (_LOST, _PIECE), leaves_piece=State.FINISHED
    ),
    Kind.MELT_BACK: _declare(how.MELTED, (_PIECE, _LOT), leaves_piece=State.MELTED),
    Kind.SALE: _declare(how.SOLD, (_PIECE, Holder.Place.CUSTOMER), leaves_piece=State.SOLD),
    # It is again what it was before it left.
    Kind.RETURN: _declare(how.RETURNED, (Holder.Place.CUSTOMER, _PIECE), leaves_piece=State.FINISHED),
    Kind.USE: _declare(how.TAKEN, (_LOT, _USED)),
    Kind.COUNT: _declare(how.COUNTED, (_LOT, Holder.Place.COUNTED), (Holder.Place.COUNTED, _LOT)),
    Kind.SCRAP: _declare(how.TAKEN, (_LOT, Holder.Place.SCRAPPED)),
    Kind.HAND_BACK: _declare(how.TAKEN, (_LOT, Holder.Place.CUSTOMER)),
    # Its grams become theirs; what they cost the studio leaves with them.
    Kind.TOP_UP: _declare(how.TOPPED_UP, (_LOT, _LOT), (_LOT, Holder.Place.CUSTOMER)),
    Kind.CLEANED: _declare(how.CLEANED, (_LOT, _LOT), (_LOT, _LOST), (_LOST, _LOT)),
    Kind.TOGETHER: _declare(how.TOGETHER, (_LOT, _LOT)),
    Kind.APART: _declare(how.APART, (_LOT, _LOT)),
    Kind.SEND: _declare(how.SENT, (_LOT, _BATCH)),
    # What the refiner's scale or assay shows beyond what the book had comes in where less would have gone.
    Kind.SETTLE: _declare(
        how.SETTLED,
        *((_BATCH, end) for end in (_LOT, _REFINER, _REF_LOST, _REF_ASSAY)),
        (_REF_LOST, _BATCH),
        (_REF_ASSAY, _BATCH),
        (_REFINER, _LOT),
    ),
    # Sent back after its lot was assayed, it is put right as it comes back.
    Kind.SENT_BACK: _declare(
        how.SENT_BACK,
        (_BATCH, _LOT),
        (_BATCH, _REF_LOST),
        (_REF_LOST, _BATCH),
        *_both_ways(_ASSAY, _LOT),
    ),
    # Found after what it is of was assayed, it is put right as it comes back.
    Kind.FOUND: _declare(how.FOUND, (_LOST, _LOT), *_both_ways(_ASSAY, _LOT)),
    Kind.ASSAY: _declare(
        how.ASSAYED,
        *(ends for held in (_LOT, _CRUCIBLE, _PIECE, _BATCH) for ends in _both_ways(_ASSAY, held)),
        undo=forget,
    ),
}
