"""Postings of stock outside casting: opening stock, a customer's metal, use, counts, what is thrown away."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib.auth.models import User

from inventory.core.fineness import compute_middle_ug
from inventory.core.ledger import Amount, rate_of
from inventory.core.picking import compute_use_by_once_opened, sets_in_time
from inventory.models import Cast, Customer, Entry, Holder, Lot, Material, Piece, Receipt, SettingTest
from inventory.queries.ledger import came_in_with, last_moved_on, name_lot
from studio.kit.printing import print_day
from studio.kit.units import MELTS_MILLI_PER_MELT

from .book import Book, balance_of, open_book
from .buying import Guess, count_fine, kept_as, make_lot
from .locking import bring_up_to_date, studio_locked
from .refusal import Refused

Place = Holder.Place
#: What is known of a lot besides how much there is.
MENDABLE = ("supplier_batch", "use_by", "kept_in", "damp_on", "note")


@dataclass(frozen=True)
class OpeningLot:
    """Stock that was there before the books began: quantity in the material's small unit, cost often a guess.

    `melts_milli` is None where nobody knows.
    """

    material: Material
    quantity: int
    cost_micro: int
    origin: str = Lot.Origin.OPENING
    melts_milli: int | None = 0
    supplier_batch: str = ""
    use_by: date | None = None
    kept_in: str = ""
    cost_is_estimate: bool = True
    guess: Guess | None = None


def post_opening(opening: OpeningLot, day: date, note: str = "", by: User | None = None) -> Lot:
    """Enter a lot that was already in the studio. Raises Refused when there is nothing of it."""
    with open_book(by) as book:
        return add_opening(book, opening, day, note)


def add_opening(book: Book, opening: OpeningLot, day: date, note: str = "") -> Lot:
    _refuse_nothing(opening.quantity)
    book.read(opening.material)
    draft = book.begin(Entry.Kind.OPENING, day, note=note)
    lot = make_lot(book, draft, kept_as(opening.material, opening.guess), opening.origin)
    is_old = opening.origin != Lot.Origin.OPENING
    lot.melts_are_guess = is_old and opening.melts_milli is None
    lot.melts_milli = MELTS_MILLI_PER_MELT if lot.melts_are_guess else opening.melts_milli or 0
    lot.cost_is_estimate = opening.cost_is_estimate
    lot.supplier_batch, lot.use_by, lot.kept_in = opening.supplier_batch, opening.use_by, opening.kept_in
    fine = count_fine(book, draft, lot, opening.quantity, opening.guess)
    amount = Amount(opening.quantity, fine, opening.cost_micro)
    book.move(draft, book.outside(Place.OPENING), lot.holder, amount)
    return lot


@dataclass(frozen=True)
class Told:
    """What was told of metal as it came in, besides its weight: what it was, what was taken out of it before it was
    weighed, and from what to what its fineness may be."""

    what: str = ""
    stones: str = ""
    guess: Guess | None = None


def post_handed_in(
    customer: Customer,
    material: Material,
    mass_mg: int,
    day: date,
    melts_milli: int | None = 0,
    note: str = "",
    by: User | None = None,
    told: Told = Told(),
) -> Lot:
    """Take in a customer's own metal: it is weighed and kept like any other, and carries no cost."""
    with open_book(by) as book:
        handed = HandedIn(customer, material, mass_mg, melts_milli, told)
        return add_handed_in(book, handed, day, note)


@dataclass(frozen=True)
class HandedIn:
    """Metal of a customer: whose, which, milligrams, its melts in thousandths, and what else was told of it.

    `melts_milli` is None for old metal of which nobody knows them.
    """

    customer: Customer
    material: Material
    mass_mg: int
    melts_milli: int | None = 0
    told: Told = Told()


def add_handed_in(book: Book, handed: HandedIn, day: date, note: str = "") -> Lot:
    _refuse_nothing(handed.mass_mg)
    if handed.material.kind != Material.Kind.METAL:
        raise Refused("A customer hands in metal; choose a metal.", "material")
    book.read(handed.material)
    draft = book.begin(Entry.Kind.HANDED_IN, day, note=note)
    lot = make_lot(book, draft, kept_as(handed.material, handed.told.guess), Lot.Origin.HANDED_IN)
    lot.owner, lot.melts_are_guess = handed.customer, handed.melts_milli is None
    lot.melts_milli = MELTS_MILLI_PER_MELT if handed.melts_milli is None else handed.melts_milli
    amount = Amount(handed.mass_mg, count_fine(book, draft, lot, handed.mass_mg, handed.told.guess), 0)
    book.move(draft, book.outside(Place.CUSTOMER), lot.holder, amount)
    _write_receipt(book, lot, handed.told)
    return lot


def _write_receipt(book: Book, lot: Lot, told: Told) -> None:
    receipt = Receipt.objects.filter(lot=lot).first() if lot.pk else None
    if receipt is None:
        book.make(Receipt(lot=lot, what=told.what, stones=told.stones))
    else:
        receipt.what, receipt.stones = told.what, told.stones
        receipt.save(update_fields=["what", "stones"])


def post_hand_back(lot: Lot, mass_mg: int, day: date, note: str = "", by: User | None = None) -> Entry:
    """Give a customer back what is left of their metal."""
    if lot.owner_id is None:
        raise Refused(f"{name_lot(lot)} is the studio's own metal; only a customer's metal is handed back.")
    with open_book(by) as book:
        return add_out(book, Out(Entry.Kind.HAND_BACK, lot, mass_mg), day, note)


def post_scrap(lot: Lot, quantity: int, day: date, note: str = "", by: User | None = None) -> Entry:
    """Throw away stock, spoilt powder say; its cost goes with it and reports show it."""
    with open_book(by) as book:
        return add_out(book, Out(Entry.Kind.SCRAP, lot, quantity), day, note)


def post_use(
    lot: Lot,
    quantity: int,
    day: date,
    cast: Cast | None = None,
    piece: Piece | None = None,
    note: str = "",
    by: User | None = None,
) -> Entry:
    """Take something from stock for a cast, for a piece (a finding, a box) or for the studio in general."""
    with open_book(by) as book:
        return add_out(book, Out(Entry.Kind.USE, lot, quantity, cast, piece), day, note)


_LEADS_TO = {
    Entry.Kind.HAND_BACK: Place.CUSTOMER,
    Entry.Kind.SCRAP: Place.SCRAPPED,
    Entry.Kind.USE: Place.USED,
}


@dataclass(frozen=True)
class Out:
    """What leaves a lot, in its small unit, by an entry of which kind, and for what cast or piece."""

    kind: Entry.Kind
    lot: Lot
    quantity: int
    cast: Cast | None = None
    piece: Piece | None = None


def add_out(book: Book, out: Out, day: date, note: str = "") -> Entry:
    _refuse_nothing(out.quantity)
    lot, piece = out.lot, out.piece
    cast = piece.cast if piece is not None else out.cast
    book.read(lot, *(row for row in (cast, piece) if row is not None))
    if out.kind == Entry.Kind.HAND_BACK and lot.owner_id is None:
        raise Refused(f"{name_lot(lot)} is the studio's own metal; only a customer's metal is handed back.")
    if out.kind == Entry.Kind.USE and lot.material.kind == Material.Kind.METAL:
        raise Refused("Metal is taken from stock by the charge of a cast.", "lot")
    if piece is not None and piece.state == Piece.State.MELTED:
        raise Refused(f"{piece.name} is back in the pot: nothing is taken for it any more.")
    draft = book.begin(out.kind, day, cast=cast, piece=piece, note=note)
    book.take(draft, lot.holder, book.outside(_LEADS_TO[out.kind]), out.quantity, field="quantity")
    return draft.entry


def post_count(lot: Lot, counted: int, day: date, note: str = "", by: User | None = None) -> Entry | None:
    """Set a lot to what was counted; the difference goes to, or comes from, the place for counts.

    What is missing takes its share of cost with it; what is found comes in at the lot's own cost for each
    gram, or at none when the lot was thought empty. Returns None when the count agrees.
    """
    with open_book(by) as book:
        return add_count(book, lot, counted, day, note)


def add_count(book: Book, lot: Lot, counted: int, day: date, note: str = "") -> Entry | None:
    book.read(lot)
    return count_lot(book, lot, counted, day, note)


def count_lot(book: Book, lot: Lot, counted: int, day: date, note: str = "") -> Entry | None:
    """The same of a lot that the book has read under the lock."""
    holder = lot.holder
    moved_on = last_moved_on(holder)
    if book.again is None and moved_on and day < moved_on:
        moved = print_day(moved_on, with_year=True)
        raise Refused(f"This lot moved on {moved}; a count before that says nothing about today.", "day")
    difference = counted - holder.quantity
    if difference == 0:
        return None
    draft = book.begin(Entry.Kind.COUNT, day, note=note)
    counted_place = book.outside(Place.COUNTED)
    if difference < 0:
        book.take(draft, holder, counted_place, -difference, field="counted")
    else:
        book.move(draft, counted_place, holder, _found_amount(holder, lot, difference))
    return draft.entry


def _found_amount(holder: Holder, lot: Lot, quantity: int) -> Amount:
    if holder.quantity == 0:
        # An empty lot has no rate of its own: it is counted as it came in, or as it was assayed since.
        if lot.fineness_by == Lot.FinenessBy.ASSAYED and lot.fine_low_ppm is not None:
            return Amount(quantity, compute_middle_ug(quantity, lot.fine_low_ppm, lot.fine_low_ppm), 0)
        came = came_in_with(lot)
        return Amount(quantity, rate_of(came, quantity).fine_ug if came.quantity else 0, 0)
    return rate_of(balance_of(holder), quantity)


def open_tub(lot: Lot, day: date) -> None:
    """Write down when a tub was opened, and the use-by that follows from it when that is sooner."""
    with studio_locked():
        bring_up_to_date([lot])
        lot.opened_on = day
        _keep_once_opened(lot)
        lot.save(update_fields=["opened_on", "use_by"])


def _keep_once_opened(lot: Lot) -> None:
    """One day counts: the maker's, or the last of the days it keeps once opened, whichever is sooner."""
    if lot.opened_on is not None:
        lot.use_by = compute_use_by_once_opened(lot.use_by, lot.opened_on, lot.material.opened_life_days)


def note_setting_test(
    lot: Lot, day: date, minutes: int, note: str = "", by: User | None = None
) -> bool | None:
    """Write down in how many minutes powder set. What its newest test says of it holds.

    Whether that was within the maker's time, None where nobody wrote that down.
    """
    with studio_locked():
        bring_up_to_date([lot])
        lot.setting_tests.create(day=day, minutes=minutes, note=note, tested_by=by)
        newest: SettingTest = lot.setting_tests.latest("day", "pk")
        powder = lot.material
        in_time, is_newest_so = (
            sets_in_time(one, powder.sets_least_minutes, powder.sets_most_minutes)
            for one in (minutes, newest.minutes)
        )
        lot.sets_wrong_on = newest.day if is_newest_so is False else None
        lot.save(update_fields=["sets_wrong_on"])
    return in_time


def mend_lot(lot: Lot, facts: Mapping[str, Any]) -> None:
    """Write facts of a lot anew that no stock hangs on. Raises KeyError for any other."""
    if not set(facts) <= set(MENDABLE):
        raise KeyError(set(facts) - set(MENDABLE))
    with studio_locked():
        bring_up_to_date([lot])
        for name, value in facts.items():
            setattr(lot, name, value)
        _keep_once_opened(lot)
        lot.save(update_fields=[*facts, "use_by"])


def _refuse_nothing(quantity: int) -> None:
    if quantity <= 0:
        raise Refused("Write how much, more than nothing.", "quantity")
