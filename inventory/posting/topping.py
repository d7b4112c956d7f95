"""Metal of the studio that becomes a customer's: at a price, before it goes into a crucible with theirs."""

from dataclasses import dataclass
from datetime import date

from django.contrib.auth.models import User

from inventory.core.ledger import Amount
from inventory.models import Customer, Entry, Holder, Lot, Material, TopUp
from inventory.queries.ledger import name_lot

from .assaying import say_as_known
from .book import Book, open_book
from .buying import make_lot
from .refusal import Refused


@dataclass(frozen=True)
class Topping:
    """So many milligrams of a lot of the studio's, for whom, and the price agreed, in millionths of the currency."""

    lot: Lot
    customer: Customer
    mass_mg: int
    price_micro: int


def post_top_up(
    lot: Lot,
    customer: Customer,
    mass_mg: int,
    price_micro: int,
    day: date,
    note: str = "",
    by: User | None = None,
) -> Lot:
    """Pass metal of the studio to a customer: a lot of theirs, without cost, so that no metal is mixed unowned.

    What it cost the studio leaves for good, as with a piece that is sold; the price stands beside the entry.
    Raises Refused for metal that is not the studio's, and for more than is there.
    """
    with open_book(by) as book:
        return add_top_up(book, Topping(lot, customer, mass_mg, price_micro), day, note)


def add_top_up(book: Book, topping: Topping, day: date, note: str = "") -> Lot:
    lot, mass_mg = topping.lot, topping.mass_mg
    book.read(lot)
    _refuse_unfit(lot, mass_mg)
    draft = book.begin(Entry.Kind.TOP_UP, day, note=note)
    theirs = make_lot(book, draft, lot.material, lot.origin)
    theirs.owner, theirs.melts_milli, theirs.melts_are_guess = (
        topping.customer,
        lot.melts_milli,
        lot.melts_are_guess,
    )
    drawn = book.measure(lot.holder, mass_mg, "quantity")
    say_as_known(theirs, [(lot, drawn)])
    # The cost goes first: a lot that is used up may hold none.
    book.move(draft, lot.holder, book.outside(Holder.Place.CUSTOMER), Amount(cost_micro=drawn.cost_micro))
    book.move(draft, lot.holder, theirs.holder, Amount(mass_mg, drawn.fine_ug))
    book.make(TopUp(entry=draft.entry, price_micro=topping.price_micro))
    return theirs


def _refuse_unfit(lot: Lot, mass_mg: int) -> None:
    if lot.owner_id is not None:
        raise Refused(f"{name_lot(lot)} is {lot.owner}'s own metal; only the studio's is passed on.", "lot")
    if lot.material.kind != Material.Kind.METAL:
        raise Refused("Only metal is passed to a customer.", "lot")
    if mass_mg <= 0:
        raise Refused("Write how much, more than nothing.", "quantity")
