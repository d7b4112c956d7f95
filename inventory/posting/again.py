"""How each kind of entry is written again when something before it was mended.

`read` takes from an entry what a person gave for it: what was weighed, counted or paid, never what followed from
that. `write` posts this once more in an open book, by the same function as the first time, so that fine metal, cost,
losses and melts follow anew.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from django.db.models import Sum

from inventory.models import Cast, Entry, Holder, Lot, Movement, Piece, Receipt, TreePart
from inventory.queries.casting import charged_portions
from inventory.queries.landed import landed_rows
from inventory.queries.ledger import held_after
from inventory.queries.plain import plain_rows
from inventory.queries.refining import batch_of_entry
from studio.kit.printing import print_day

from .assaying import KNOWN_FIELDS, Assay, add_assay, renew_knowing
from .book import Book
from .buying import Bill, Charges, DeliveryLine, DeliveryRecord, Guess, add_bill, add_delivery
from .casting import (
    Found,
    Portion,
    TreeRecord,
    add_charge,
    add_found,
    add_powder,
    add_tree,
)
from .closing import PieceGroup, Weights, add_close
from .pieces import add_finish, add_melt_back, add_return, add_sale
from .reclaim import Apart, Cleaned, Together, add_apart, add_cleaned, add_together
from .refining import MetalBack, SettledPart, add_send, add_sent_back, add_settle
from .refusal import Refused
from .stock import HandedIn, OpeningLot, Out, Told, add_count, add_handed_in, add_opening, add_out
from .topping import Topping, add_top_up

What = Movement.What


@dataclass(frozen=True)
class Again:
    """`read(entry)` gives what was given for it; `write(book, entry, given, day)` posts that once more.

    `then` is done once the book is written.
    """

    read: Callable[[Entry], Any]
    write: Callable[[Book, Entry, Any, date], object]
    then: Callable[[], None] | None = None


def lots_given(given: Any) -> set[int]:
    """The holders of the lots that something given draws on, so that what was drawn there later is known."""
    items: Iterable[Any] = given if isinstance(given, list | tuple) else [given]
    lots = [getattr(item, "lot", None) for item in items]
    lots += getattr(given, "put", ())
    return {lot.holder_id for lot in lots if lot is not None}


def _lines(entry: Entry) -> list[Movement]:
    along = ("source__lot__material", "target__lot__material")
    lines = plain_rows(Movement, "WHERE t0.entry_id = %(entry)s ORDER BY t0.line", {"entry": entry.pk}, along)
    for line in lines:
        line.entry = entry
    return lines


def _only_lot(entry: Entry) -> Lot:
    return entry.lots_made.select_related("material__alloy", "owner", "holder").get()


def _read_delivery(entry: Entry) -> DeliveryRecord:
    delivery = entry.delivery
    lines = [
        DeliveryLine(
            row.lot.bought_as or row.lot.material,
            row.quantity,
            row.first_price_micro,
            row.lot.supplier_batch,
            row.lot.use_by,
            row.lot.kept_in,
            row.lot,
            _guess_of(entry, row.lot),
        )
        for row in landed_rows(delivery)
        if row.lot.entry_id == entry.pk
    ]
    charges = Charges(delivery.carriage_micro, delivery.duty_micro, delivery.tax_micro, delivery.spread_by)
    return DeliveryRecord(delivery.supplier, lines, charges, delivery.reference, delivery.order)


def _read_opening(entry: Entry) -> OpeningLot:
    lot, [line] = _only_lot(entry), _lines(entry)
    return OpeningLot(
        lot.material,
        line.quantity,
        line.cost_micro,
        lot.origin,
        None if lot.melts_are_guess else lot.melts_milli,
        lot.supplier_batch,
        lot.use_by,
        lot.kept_in,
        lot.cost_is_estimate,
        _guess_of(entry, lot),
    )


def _guess_of(entry: Entry, lot: Lot) -> Guess | None:
    """The ends of its fineness that a lot came in with."""
    note = entry.fineness_notes.filter(lot=lot).first()
    if note is None or note.low_ppm is None or note.high_ppm is None:
        return None
    return note.low_ppm, note.high_ppm


def _read_handed_in(entry: Entry) -> HandedIn:
    lot, [line] = _only_lot(entry), _lines(entry)
    assert lot.owner is not None  # noqa: S101 - what was handed in is somebody's
    receipt = Receipt.objects.filter(lot=lot).first() or Receipt(lot=lot)
    told = Told(receipt.what, receipt.stones, _guess_of(entry, lot))
    melts_milli = None if lot.melts_are_guess else lot.melts_milli
    return HandedIn(lot.owner, lot.material, line.quantity, melts_milli, told)


def _read_top_up(entry: Entry) -> Topping:
    theirs = _only_lot(entry)
    assert theirs.owner is not None  # noqa: S101 - what was passed on is somebody's
    line = _lines(entry)[-1]
    return Topping(line.source.lot, theirs.owner, line.quantity, entry.top_up.price_micro)


def _read_bill(entry: Entry) -> Bill:
    lines = entry.bill_lines.select_related("lot__delivery")
    delivery = entry.bill_for or lines[0].lot.delivery
    assert delivery is not None  # noqa: S101 - a bill is for a delivery
    prices = {line.lot_id: line.price_micro for line in lines if line.price_micro}
    return Bill(delivery, prices, sum(line.charges_micro for line in lines))


def _read_tree(entry: Entry) -> list[TreeRecord]:
    parts = TreePart.objects.filter(entry=entry).select_related("material", "lot").order_by("pk")
    return [TreeRecord(part.material, part.quantity, part.lot) for part in parts]


def _write_tree(book: Book, entry: Entry, parts: Sequence[TreeRecord], day: date) -> None:
    book.read(*(part.lot for part in parts if part.lot is not None))
    cast = _cast_of(book, entry)
    _refuse_after_end(cast, entry, day)
    add_tree(book, cast, parts, day)


def _read_portions(entry: Entry) -> list[Portion]:
    return [
        Portion(line.source.lot, line.quantity)
        for line in _lines(entry)
        if line.source.kind == Holder.Kind.LOT
    ]


def _write_powder(book: Book, entry: Entry, portions: Sequence[Portion], day: date) -> None:
    book.read(*(portion.lot for portion in portions))
    cast = _cast_of(book, entry)
    _refuse_after_end(cast, entry, day)
    add_powder(book, cast, portions, day)


def _refuse_after_end(cast: Cast, entry: Entry, day: date) -> None:
    """What stands on another day than it did is not moved behind the end of its cast."""
    if cast.closed_on is not None and day > cast.closed_on and day != entry.day:
        ended = print_day(cast.closed_on, with_year=True)
        raise Refused(f"Cast {cast.number} ended on {ended}. Choose that day or an earlier one.", "day")


def _write_charge(book: Book, entry: Entry, portions: Sequence[Portion], day: date) -> None:
    book.read(*(portion.lot for portion in portions))
    cast = _cast_of(book, entry)
    add_charge(book, cast, portions, day)
    cast.save(update_fields=KNOWN_FIELDS)


def _cast_of(book: Book, entry: Entry) -> Cast:
    cast = entry.cast
    assert cast is not None  # noqa: S101 - a step of a cast names its cast
    book.read(cast)
    return cast


def _read_close(entry: Entry) -> Weights:
    sums = dict(entry.movements.order_by().values_list("what").annotate(Sum("quantity")))
    # As the lines stand: a casting that was added to others later has a number far from theirs.
    pieces = [
        line.target.piece
        for line in entry.movements.filter(what=What.PIECE)
        .select_related("target__piece__pattern_material")
        .order_by("line")
    ]
    groups: list[PieceGroup] = []
    while pieces:
        together, pieces = pieces[: pieces[0].weighed_with], pieces[pieces[0].weighed_with :]
        groups.append(_group_of(together))
    failed_in = entry.movements.filter(what=What.FAILED).values_list("target__lot__origin", flat=True)
    return Weights(
        groups,
        back_mg=sums.get(What.BACK, 0),
        failed_mg=sums.get(What.FAILED, 0),
        spill_mg=sums.get(What.SPILL, 0),
        filings_mg=sums.get(What.FILINGS, 0),
        failed=not groups,
        failed_origin=failed_in.first() or Lot.Origin.FAILED,
        as_it_is=entry.cast is not None and entry.cast.meant_alloy_id is not None,
    )


def _group_of(pieces: Sequence[Piece]) -> PieceGroup:
    """Pieces that were weighed together, as they were written down."""
    first = pieces[0]
    patterns = [piece.pattern_mass_mg for piece in pieces if piece.pattern_mass_mg is not None]
    return PieceGroup(
        first.name if len(pieces) == 1 else first.name.removesuffix(" 1"),
        sum(piece.as_cast_mg for piece in pieces),
        len(pieces),
        patterns if len(patterns) == len(pieces) else (),
        first.pattern_material,
        tuple(pieces),
    )


def _write_close(book: Book, entry: Entry, weights: Weights, day: date) -> None:
    cast = _cast_of(book, entry)
    add_close(book, cast, weights, charged_portions(cast), day)
    cast.save(update_fields=["alloy", "meant_alloy", "closed_on", "outcome"])


def _read_finish(entry: Entry) -> tuple[list[tuple[Piece, int]], int]:
    """Each piece with what it weighed afterwards, and the filings that were swept up."""
    lines = entry.movements.order_by("line")
    keys = {pk for line in lines for pk in (line.source_id, line.target_id)}
    pieces = Piece.objects.filter(holder__in=keys).select_related("cast", "holder").order_by("number")
    filings_mg = sum(line.quantity for line in lines if line.what == What.FILINGS)
    return [(piece, held_after(piece.holder_id, entry)) for piece in pieces], filings_mg


def _write_finish(
    book: Book, entry: Entry, given: tuple[Sequence[tuple[Piece, int]], int], day: date
) -> None:
    finished, filings_mg = given
    add_finish(book, finished, filings_mg, day, entry.note)


def _read_piece(entry: Entry) -> Piece:
    assert entry.piece is not None  # noqa: S101 - a piece that leaves is named
    return entry.piece


def _read_out(entry: Entry) -> Out:
    [line] = _lines(entry)
    return Out(Entry.Kind(entry.kind), line.source.lot, line.quantity, entry.cast, entry.piece)


@dataclass(frozen=True)
class Counted:
    """A lot, and how much was counted of it."""

    lot: Lot
    counted: int


def _read_count(entry: Entry) -> Counted:
    [line] = _lines(entry)
    holder = line.source if line.source.kind == Holder.Kind.LOT else line.target
    return Counted(holder.lot, held_after(holder.pk, entry))


def _read_found(entry: Entry) -> Found:
    line = next(one for one in _lines(entry) if one.what == What.LOSS)
    return Found(line.quantity, line.target.lot.origin)


def _read_cleaned(entry: Entry) -> Cleaned:
    lines = _lines(entry)
    kept = next(line for line in lines if line.what == What.GOODS)
    # A hair too much came out of "lost" into the same lot.
    mass_mg = sum(line.quantity for line in lines if line.target_id == kept.target_id)
    return Cleaned(kept.source.lot, mass_mg)


def _read_together(entry: Entry) -> Together:
    made = entry.lots_made.select_related("tin__material__alloy", "tin__owner").get()
    assert made.tin is not None  # noqa: S101 - it was made for a tin
    return Together(made.tin, [line.source.lot for line in _lines(entry)])


def _read_apart(entry: Entry) -> Apart:
    [line] = _lines(entry)
    return Apart(line.source.lot, line.quantity)


def _read_settlement(entry: Entry) -> SettledPart:
    found = entry.settlement
    back = dict(
        entry.movements.filter(what=What.METAL)
        .order_by()
        .values_list("target__lot")
        .annotate(Sum("quantity"))
    )
    lots = entry.lots_made.select_related("material__alloy").order_by("pk")
    part = SettledPart(
        found.melted_mg,
        found.assay,
        found.payable_pct100,
        found.charges,
        found.price,
        [MetalBack(lot.material, back[lot.pk], lot) for lot in lots],
        None if found.is_rest else found.received_mg,
        reference=found.reference,
        by_weight=found.batch.is_by_weight,
    )
    # Money that was what the sum came to follows it; another sum was written down from the paper and stays.
    return (
        part
        if part.sum_of(found.received_mg).money_micro == found.money_micro
        else replace(part, money_micro=found.money_micro)
    )


def _write_settlement(book: Book, entry: Entry, part: SettledPart, day: date) -> None:
    add_settle(book, batch_of_entry(entry), part, day, entry.note)


def _read_return(entry: Entry) -> list[Portion]:
    return [
        Portion(line.target.lot, line.quantity)
        for line in _lines(entry)
        if line.target.kind == Holder.Kind.LOT and line.quantity
    ]


def _write_return(book: Book, entry: Entry, portions: Sequence[Portion], day: date) -> None:
    add_sent_back(book, batch_of_entry(entry), portions, day, entry.note)


def _read_assay(entry: Entry) -> Assay:
    note = entry.fineness_notes.select_related("lot__material__alloy", "lot__holder").get()
    is_guess = note.fineness_by == Lot.FinenessBy.GUESS
    return Assay(
        note.lot, note.low_ppm or 0, note.high_ppm or 0, is_guess, note.by_whom, note.paper, note.goes_on
    )


BOUGHT = Again(_read_delivery, lambda book, entry, given, day: add_delivery(book, given, day))
OPENED = Again(_read_opening, lambda book, entry, given, day: add_opening(book, given, day, entry.note))
HANDED_IN = Again(
    _read_handed_in, lambda book, entry, given, day: add_handed_in(book, given, day, entry.note)
)
BILLED = Again(_read_bill, lambda book, entry, given, day: add_bill(book, given, day, entry.note))
TREE = Again(_read_tree, _write_tree)
POWDER = Again(_read_portions, _write_powder)
CHARGE = Again(_read_portions, _write_charge)
CLOSED = Again(_read_close, _write_close)
FINISHED = Again(_read_finish, _write_finish)
SOLD = Again(_read_piece, lambda book, entry, given, day: add_sale(book, given, day, entry.note))
RETURNED = Again(_read_piece, lambda book, entry, given, day: add_return(book, given, day, entry.note))
MELTED = Again(_read_piece, lambda book, entry, given, day: add_melt_back(book, given, day, entry.note))
TAKEN = Again(_read_out, lambda book, entry, given, day: add_out(book, given, day, entry.note))
TOPPED_UP = Again(_read_top_up, lambda book, entry, given, day: add_top_up(book, given, day, entry.note))
COUNTED = Again(
    _read_count, lambda book, entry, given, day: add_count(book, given.lot, given.counted, day, entry.note)
)
FOUND = Again(
    _read_found,
    lambda book, entry, given, day: add_found(book, _cast_of(book, entry), given, day, entry.note),
)
CLEANED = Again(_read_cleaned, lambda book, entry, given, day: add_cleaned(book, given, day, entry.note))
TOGETHER = Again(_read_together, lambda book, entry, given, day: add_together(book, given, day, entry.note))
APART = Again(_read_apart, lambda book, entry, given, day: add_apart(book, given, day, entry.note))
SENT = Again(_read_portions, lambda book, entry, given, day: add_send(book, given, day, entry.note))
SETTLED = Again(_read_settlement, _write_settlement)
SENT_BACK = Again(_read_return, _write_return)
ASSAYED = Again(
    _read_assay, lambda book, entry, given, day: add_assay(book, given, day, entry.note), renew_knowing
)
