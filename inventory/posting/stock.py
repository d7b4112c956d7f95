"""Postings of stock outside casting: opening stock, a customer's metal, use, counts, what is thrown away."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib.auth.models import User

from inventory.core.keeping import compute_use_by_once_opened
from inventory.core.ledger import Amount, rate_of
from inventory.models import Cast, Customer, Entry, Holder, Lot, Material, Piece
from studio.kit.printing import print_day

from .book import balance_of, open_book
from .buying import make_lot
from .locking import bring_up_to_date, studio_locked
from .refusal import Refused

Place = Holder.Place
#: What is known of a lot besides how much there is.
MENDABLE = ("supplier_batch", "use_by", "kept_in", "is_damp", "fineness_is_guess", "note")


@dataclass(frozen=True)
class OpeningLot:
    """Stock that was there before the books began: quantity in the material's small unit, cost often a guess."""

    material: Material
    quantity: int
    cost_micro: int
    origin: str = Lot.Origin.OPENING
    melts_milli: int = 0
    supplier_batch: str = ""
    use_by: date | None = None
    kept_in: str = ""
    cost_is_estimate: bool = True


def post_opening(opening: OpeningLot, day: date, note: str = "", by: User | None = None) -> Lot:
    """Enter a lot that was already in the studio. Raises Refused when there is nothing of it."""
    _refuse_nothing(opening.quantity)
    with open_book(by) as book:
        book.read(opening.material)
        draft = book.begin(Entry.Kind.OPENING, day, note=note)
        lot = make_lot(book, draft, opening.material, opening.origin)
        lot.melts_milli, lot.cost_is_estimate = opening.melts_milli, opening.cost_is_estimate
        lot.supplier_batch, lot.use_by, lot.kept_in = opening.supplier_batch, opening.use_by, opening.kept_in
        # Old buttons and filings came out of melts that no book knows; what is as it was bought has its maker's word.
        lot.fineness_is_guess |= opening.origin != Lot.Origin.OPENING
        fine = opening.quantity * opening.material.fineness
        amount = Amount(opening.quantity, fine, opening.cost_micro)
        book.move(draft, book.outside(Place.OPENING), lot.holder, amount)
    return lot


def post_handed_in(
    customer: Customer,
    material: Material,
    mass_mg: int,
    day: date,
    melts_milli: int = 0,
    note: str = "",
    by: User | None = None,
) -> Lot:
    """Take in a customer's own metal: it is weighed and kept like any other, and carries no cost."""
    _refuse_nothing(mass_mg)
    if material.kind != Material.Kind.METAL:
        raise Refused("A customer hands in metal; choose a metal.", "material")
    with open_book(by) as book:
        book.read(material)
        draft = book.begin(Entry.Kind.HANDED_IN, day, note=note)
        lot = make_lot(book, draft, material, Lot.Origin.HANDED_IN)
        lot.owner, lot.melts_milli = customer, melts_milli
        amount = Amount(mass_mg, mass_mg * material.fineness, 0)
        book.move(draft, book.outside(Place.CUSTOMER), lot.holder, amount)
    return lot


def post_hand_back(lot: Lot, mass_mg: int, day: date, note: str = "", by: User | None = None) -> Entry:
    """Give a customer back what is left of their metal."""
    if lot.owner_id is None:
        raise Refused(f"Lot {lot.pk} is the studio's own metal; only a customer's metal is handed back.")
    out = _Out(Entry.Kind.HAND_BACK, Place.CUSTOMER, note)
    return _post_out(lot, mass_mg, day, out, by)


def post_scrap(lot: Lot, quantity: int, day: date, note: str = "", by: User | None = None) -> Entry:
    """Throw away stock, spoilt powder say; its cost goes with it and reports show it."""
    return _post_out(lot, quantity, day, _Out(Entry.Kind.SCRAP, Place.SCRAPPED, note), by)


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
    if lot.material.kind == Material.Kind.METAL:
        raise Refused("Metal is taken from stock by the charge of a cast.", "lot")
    if piece is not None:
        cast = piece.cast
    return _post_out(lot, quantity, day, _Out(Entry.Kind.USE, Place.USED, note, cast, piece), by)


@dataclass(frozen=True)
class _Out:
    """Where a draw goes, and what the entry says of it."""

    kind: Entry.Kind
    place: Holder.Place
    note: str
    cast: Cast | None = None
    piece: Piece | None = None


def _post_out(lot: Lot, quantity: int, day: date, out: _Out, by: User | None) -> Entry:
    _refuse_nothing(quantity)
    with open_book(by) as book:
        book.read(lot, *(row for row in (out.cast, out.piece) if row is not None))
        if out.piece is not None and out.piece.state == Piece.State.MELTED:
            raise Refused(f"{out.piece.name} is back in the pot: nothing is taken for it any more.")
        draft = book.begin(out.kind, day, cast=out.cast, piece=out.piece, note=out.note)
        book.take(draft, lot.holder, book.outside(out.place), quantity, field="quantity")
    return draft.entry


def post_count(lot: Lot, counted: int, day: date, note: str = "", by: User | None = None) -> Entry | None:
    """Set a lot to what was counted; the difference goes to, or comes from, the place for counts.

    What is missing takes its share of cost with it; what is found comes in at the lot's own cost for each
    gram, or at none when the lot was thought empty. Returns None when the count agrees.
    """
    with open_book(by) as book:
        book.read(lot)
        holder = lot.holder
        if holder.latest_day and day < holder.latest_day:
            moved = print_day(holder.latest_day, with_year=True)
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
        return Amount(quantity, quantity * lot.material.fineness, 0)
    return rate_of(balance_of(holder), quantity)


def open_tub(lot: Lot, day: date) -> None:
    """Write down when a tub was opened, and the use-by that follows from it when that is sooner."""
    with studio_locked():
        bring_up_to_date([lot])
        lot.opened_on = day
        lot.use_by = compute_use_by_once_opened(lot.use_by, day, lot.material.opened_life_days)
        lot.save(update_fields=["opened_on", "use_by"])


def mend_lot(lot: Lot, facts: Mapping[str, Any]) -> None:
    """Write facts of a lot anew that no stock hangs on. Raises KeyError for any other."""
    if not set(facts) <= set(MENDABLE):
        raise KeyError(set(facts) - set(MENDABLE))
    with studio_locked():
        bring_up_to_date([lot])
        for name, value in facts.items():
            setattr(lot, name, value)
        lot.save(update_fields=list(facts))


def _refuse_nothing(quantity: int) -> None:
    if quantity <= 0:
        raise Refused("Write how much, more than nothing.", "quantity")
