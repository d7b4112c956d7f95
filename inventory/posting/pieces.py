"""Postings of pieces: finishing, sale, return, back to the pot, back to the owner of the metal."""

from collections.abc import Sequence
from datetime import date

from django.contrib.auth.models import User

from inventory.core.ledger import share_out
from inventory.core.weighing import compute_weighing_uncertainty
from inventory.models import Cast, Entry, Holder, Lot, Movement, Piece
from inventory.queries.casting import charged_portions, count_weighings, losses_by_day
from inventory.queries.ledger import last_moved_on
from inventory.queries.pieces import HERE, LENT, left_with, state_when_here
from studio.kit.printing import print_day, print_mass
from studio.kit.rounding import allocate_largest_remainder

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
    return post_finish_together([(piece, finished_mg)], filings_mg, day, note, by)


def post_finish_together(
    finished: Sequence[tuple[Piece, int]],
    filings_mg: int,
    day: date,
    note: str = "",
    by: User | None = None,
) -> Entry | None:
    """Weigh pieces of one cast after filing, each by itself and what was swept up from them all once.

    They share the filings by what each has lost, into one lot. One entry, which is reversed as one. Returns and
    raises as post_finish; raises ValueError for pieces of several casts.
    """
    with open_book(by) as book:
        return add_finish(book, finished, filings_mg, day, note)


def add_finish(
    book: Book, finished: Sequence[tuple[Piece, int]], filings_mg: int, day: date, note: str = ""
) -> Entry | None:
    if len({piece.cast_id for piece, _ in finished}) > 1:
        raise ValueError("pieces that are finished together come from one cast")
    only = finished[0][0] if len(finished) == 1 else None
    _read_pieces(book, *(piece for piece, _ in finished))
    _refuse_lent(book, [piece for piece, _ in finished], day)
    cast = finished[0][0].cast
    draft = book.begin(Entry.Kind.FINISH, day, cast=cast, piece=only, note=note)
    gone = [piece.holder.quantity - finished_mg for piece, finished_mg in finished]
    _refuse_gain(book, finished, gone, filings_mg)
    shares = allocate_largest_remainder(filings_mg, [max(gone_mg, 0) for gone_mg in gone])
    lot = _filings_lot(book, draft, cast) if filings_mg else None
    for (piece, finished_mg), gone_mg, share_mg in zip(finished, gone, shares, strict=True):
        holder = piece.holder
        lost_mg = gone_mg - share_mg
        if lost_mg < 0:
            take_back_gain(book, draft, holder, -lost_mg, _weighings(finished))
        parts = [finished_mg, share_mg, max(lost_mg, 0)]
        _, filings, lost = share_out(balance_of(holder), parts)
        if lot is not None:
            book.move(draft, holder, lot.holder, filings, What.FILINGS)
        book.move(draft, holder, book.outside(Holder.Place.LOST), lost, What.LOSS)
        _set_state(piece, State.FINISHED, day)
    # No line tells of one that weighs what it did.
    moved = {end.pk for line in draft.lines for end in (line.source, line.target)}
    whole = [piece.pk for piece, _ in finished if piece.holder_id not in moved]
    if whole:
        Piece.objects.filter(pk__in=whole).update(finished_whole_on=day)
    return draft.entry if draft.lines else None


def post_sale(piece: Piece, day: date, note: str = "", by: User | None = None) -> Entry:
    """A piece leaves for good: sold, given, or, where the metal was a customer's, handed to its owner.

    Raises Refused for one that is out to be sold: it is sold from there, with its price, or comes back first.
    """
    with open_book(by) as book:
        _refuse_lent(book, [piece], way_out="Sell it from there, or write first that it came back.")
        return add_sale(book, piece, day, note)


def add_sale(book: Book, piece: Piece, day: date, note: str = "") -> Entry:
    _read_pieces(book, piece)
    _refuse_before_it_was_weighed(piece, day)
    draft = book.begin(Entry.Kind.SALE, day, cast=piece.cast, piece=piece, note=note)
    customer = book.outside(Holder.Place.CUSTOMER)
    book.move(draft, piece.holder, customer, balance_of(piece.holder), What.PIECE)
    _set_state(piece, State.HANDED if piece.cast.owner_id else State.SOLD, day)
    return draft.entry


def post_return(piece: Piece, day: date, note: str = "", by: User | None = None) -> Entry:
    """A piece that left comes back, with the grams and the cost that it left with, in the state that it had before.

    Raises Refused for one that did not leave, and for a day before it did.
    """
    with open_book(by) as book:
        return add_return(book, piece, day, note)


def add_return(book: Book, piece: Piece, day: date, note: str = "") -> Entry:
    book.read(piece)
    if piece.state not in (State.SOLD, State.HANDED):
        raise Refused(f"{piece.name} is {piece.get_state_display()}: it cannot come back.")
    left = last_moved_on(piece.holder)
    if left is not None and day < left:
        raise Refused(
            f"{piece.name} left on {print_day(left, with_year=True)}: it came back on that day or later.",
            "day",
        )
    draft = book.begin(Entry.Kind.RETURN, day, cast=piece.cast, piece=piece, note=note)
    customer = book.outside(Holder.Place.CUSTOMER)
    book.move(draft, customer, piece.holder, left_with(piece), What.PIECE)
    _set_state(piece, state_when_here(piece), day)
    return draft.entry


def post_melt_back(piece: Piece, day: date, note: str = "", by: User | None = None) -> Entry:
    """Put a piece back in the reclaim tin, at what its metal cost."""
    with open_book(by) as book:
        return add_melt_back(book, piece, day, note)


def add_melt_back(book: Book, piece: Piece, day: date, note: str = "") -> Entry:
    _read_pieces(book, piece)
    _refuse_lent(book, [piece])
    _refuse_before_it_was_weighed(piece, day)
    draft = book.begin(Entry.Kind.MELT_BACK, day, cast=piece.cast, piece=piece, note=note)
    lot = make_reclaim_lot(book, draft, piece.cast, Lot.Origin.CLEAN, charged_portions(piece.cast))
    book.move(draft, piece.holder, lot.holder, balance_of(piece.holder), What.FAILED)
    _set_state(piece, State.MELTED, day)
    return draft.entry


def _filings_lot(book: Book, draft: Draft, cast: Cast) -> Lot:
    return make_reclaim_lot(book, draft, cast, Lot.Origin.FILINGS, charged_portions(cast))


def _weighings(finished: Sequence[tuple[Piece, int]]) -> int:
    """Each was weighed before and after, and the filings once."""
    return 2 * len(finished) + 1


def _refuse_gain(
    book: Book, finished: Sequence[tuple[Piece, int]], gone: Sequence[int], filings_mg: int
) -> None:
    """Refuse more metal than there was, of one piece or of all together, beyond what the scale can explain."""
    for (piece, _), gone_mg in zip(finished, gone, strict=True):
        over_mg = -gone_mg if len(finished) > 1 else filings_mg - gone_mg
        if over_mg > _explained_mg(book, 3):
            before = print_mass(piece.holder.quantity)
            raise Refused(
                f"{piece.name} weighed {before} before, so {print_mass(over_mg)} too much is here now. "
                "Weigh it without findings and stones, or weigh the filings again.",
                "finished",
            )
    over_mg = filings_mg - sum(gone)
    if over_mg > _explained_mg(book, _weighings(finished)):
        raise Refused(
            f"The pieces weigh {print_mass(sum(gone))} less than before, so {print_mass(over_mg)} too much is in the "
            "filings. Weigh them again, or write all the pieces that they came from.",
            "filings",
        )
    if over_mg > 0:
        _refuse_gain_of_cast(book, finished, over_mg)


def _refuse_gain_of_cast(book: Book, finished: Sequence[tuple[Piece, int]], over_mg: int) -> None:
    """A hair at a time makes grams: all that a cast ever weighed too much is held against one uncertainty."""
    cast = finished[0][0].cast
    lost_mg = sum(change.quantity for _, change in losses_by_day(cast))
    explained_mg = _explained_mg(book, count_weighings(cast) + _weighings(finished))
    if over_mg - lost_mg > explained_mg:
        raise Refused(
            f"With this, {print_mass(over_mg - lost_mg)} more has come out of cast {cast.number} than went in, and the "
            f"scale can explain {print_mass(explained_mg)}. Weigh again.",
            "filings",
        )


def _explained_mg(book: Book, weighings: int) -> int:
    return compute_weighing_uncertainty(book.studio.scale_division_mg, weighings).tolerance_mg


def _read_pieces(book: Book, *pieces: Piece) -> None:
    """Read pieces under the lock. Raises Refused for one that is not here any more."""
    book.read(*pieces)
    for piece in pieces:
        if piece.state not in HERE:
            raise Refused(
                f"{piece.name} is {piece.get_state_display()}: nothing more can be done with it here."
            )


def _refuse_lent(
    book: Book,
    pieces: Sequence[Piece],
    day: date | None = None,
    way_out: str = "Write first that it came back.",
) -> None:
    """Raise Refused for a piece that somebody else has; with `day`, has had since then or before.

    What is written again happened before it went out.
    """
    if book.again is not None:
        return
    names = {piece.pk: piece.name for piece in pieces}
    for find in LENT:
        for key, (who, since) in find(list(names)).items():
            if day is None or since <= day:
                raise Refused(
                    f"{names[key]} is out with {who} since {print_day(since, with_year=True)}. {way_out}"
                )


def _refuse_before_it_was_weighed(piece: Piece, day: date) -> None:
    weighed = last_moved_on(piece.holder)
    if weighed is not None and day < weighed:
        raise Refused(
            f"{piece.name} was weighed here on {print_day(weighed, with_year=True)}: it left on that day or later.",
            "day",
        )


def _set_state(piece: Piece, state: str, day: date) -> None:
    piece.state, piece.state_on = state, day
    piece.save(update_fields=["state", "state_on"])
