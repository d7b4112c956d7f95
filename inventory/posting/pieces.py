"""Postings of pieces: finishing, sale, back to the pot, back to the owner of the metal."""

from datetime import date

from django.contrib.auth.models import User

from inventory.core.alloying import compute_blend_melts_milli
from inventory.core.ledger import share_out
from inventory.models import Entry, Holder, Lot, Movement, Piece
from inventory.queries.casting import charged_portions
from studio.kit.printing import print_mass

from .book import Book, Draft, balance_of, open_book
from .closing import make_reclaim_lot, take_back_gain
from .refusal import Refused

What = Movement.What
State = Piece.State


def post_finish(
    piece: Piece,
    finished_mg: int,
    filings_mg: int,
    day: date,
    note: str = "",
    by: User | None = None,
) -> Entry | None:
    """Weigh a piece after filing and polishing: what is gone is in the filings jar or lost.

    Returns None when it weighs what it did: it is finished, and nothing moved. Raises Refused when it came out
    heavier than it went in beyond what the scale can explain.
    """
    _refuse_gone(piece)
    with open_book([piece.holder_id], by) as book:
        holder = book.holder(piece.holder_id)
        draft = book.begin(Entry.Kind.FINISH, day, cast=piece.cast, piece=piece, note=note)
        lost_mg = holder.quantity - finished_mg - filings_mg
        if lost_mg < 0:
            _take_back_gain_of_finishing(book, draft, holder, -lost_mg)
        parts = [finished_mg, filings_mg, max(lost_mg, 0)]
        _, filings, lost = share_out(balance_of(holder), parts)
        if filings_mg:
            lot = make_reclaim_lot(book, draft, piece.cast, Lot.Origin.FILINGS, _melts(piece))
            book.move(draft, holder, lot.holder, filings, What.FILINGS)
        book.move(draft, holder, book.outside(Holder.Place.LOST), lost, What.LOSS)
        _set_state(piece, State.FINISHED, day)
    return draft.entry if draft.lines else None


def post_sale(piece: Piece, day: date, note: str = "", by: User | None = None) -> Entry:
    """A piece leaves for good: sold, given, or, where the metal was a customer's, handed to its owner."""
    _refuse_gone(piece)
    with open_book([piece.holder_id], by) as book:
        holder = book.holder(piece.holder_id)
        draft = book.begin(Entry.Kind.SALE, day, cast=piece.cast, piece=piece, note=note)
        book.move(draft, holder, book.outside(Holder.Place.CUSTOMER), balance_of(holder), What.PIECE)
        _set_state(piece, State.HANDED if piece.cast.owner_id else State.SOLD, day)
    return draft.entry


def post_melt_back(piece: Piece, day: date, note: str = "", by: User | None = None) -> Entry:
    """Put a piece back in the reclaim tin, at what its metal cost."""
    _refuse_gone(piece)
    with open_book([piece.holder_id], by) as book:
        holder = book.holder(piece.holder_id)
        draft = book.begin(Entry.Kind.MELT_BACK, day, cast=piece.cast, piece=piece, note=note)
        lot = make_reclaim_lot(book, draft, piece.cast, Lot.Origin.CLEAN, _melts(piece))
        book.move(draft, holder, lot.holder, balance_of(holder), What.FAILED)
        _set_state(piece, State.MELTED, day)
    return draft.entry


def _melts(piece: Piece) -> int:
    return compute_blend_melts_milli(charged_portions(piece.cast))


def _take_back_gain_of_finishing(book: Book, draft: Draft, holder: Holder, gain_mg: int) -> None:
    """Weighed before, after, and its filings: three weighings."""
    before_mg = holder.quantity
    if take_back_gain(book, draft, holder, gain_mg, weighings=3) is not None:
        raise Refused(
            f"It weighed {print_mass(before_mg)} before, so {print_mass(gain_mg)} too much is here now. "
            "Weigh it without findings and stones, or weigh the filings again.",
            "finished",
        )


def _refuse_gone(piece: Piece) -> None:
    if piece.void or piece.state not in (State.CAST, State.FINISHED):
        raise Refused(f"{piece.name} is {piece.get_state_display()}: nothing more can be done with it here.")


def _set_state(piece: Piece, state: str, day: date) -> None:
    piece.state, piece.state_on = state, day
    piece.save(update_fields=["state", "state_on"])
