"""Postings of what is bought: deliveries, and bills that come after the goods."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.contrib.auth.models import User

from inventory.core.fineness import PPM_WHOLE, compute_middle_ug
from inventory.core.ledger import Amount
from inventory.models import (
    BillLine,
    Delivery,
    Entry,
    FinenessNote,
    Holder,
    Lot,
    Material,
    Movement,
    Order,
    Supplier,
)
from inventory.queries.fineness import is_unproved
from inventory.queries.landed import LandedRow, landed_rows
from studio.kit.printing import print_money
from studio.kit.rounding import allocate_largest_remainder

from .book import Book, Draft, open_book
from .locking import bring_up_to_date
from .ordering import Receiving, check_day
from .refusal import Refused
from .setup import mixed_material
from .writing import blank

What = Movement.What
By = Lot.FinenessBy
#: The lower and the higher end of a guessed fineness, in parts per million.
Guess = tuple[int, int]


@dataclass(frozen=True)
class DeliveryLine:
    """One line of a delivery: quantity in the material's small unit, its own price without carriage and duty.

    `lot` is the one that it made already, where a delivery is written again.
    """

    material: Material
    quantity: int
    price_micro: int
    supplier_batch: str = ""
    use_by: date | None = None
    kept_in: str = ""
    lot: Lot | None = None
    guess: Guess | None = None


@dataclass(frozen=True)
class Charges:
    """What came on top of the prices, in millionths of the currency, and how it is spread over the lines."""

    carriage_micro: int = 0
    duty_micro: int = 0
    tax_micro: int = 0
    spread_by: str = Delivery.SpreadBy.VALUE

    @property
    def total_micro(self) -> int:
        return self.carriage_micro + self.duty_micro + self.tax_micro


@dataclass(frozen=True)
class DeliveryRecord:
    """A whole delivery as its papers tell it."""

    supplier: Supplier
    lines: Sequence[DeliveryLine]
    charges: Charges
    reference: str = ""
    order: Order | None = None


def spread_charges(lines: Sequence[DeliveryLine], charges: Charges) -> list[int]:
    """Share the charges over the lines, to the last unit, by price or by mass.

    Raises Refused when they are to go by mass and a line is not weighed.
    """
    if charges.spread_by == Delivery.SpreadBy.MASS:
        if any(line.material.unit != Material.Unit.MASS for line in lines):
            raise Refused(
                "Some lines are not weighed, so carriage cannot go by mass: spread it by price.", "spread_by"
            )
        return allocate_largest_remainder(charges.total_micro, [line.quantity for line in lines])
    return allocate_largest_remainder(charges.total_micro, [line.price_micro for line in lines])


def post_delivery(
    supplier: Supplier,
    day: date,
    lines: Sequence[DeliveryLine],
    charges: Charges,
    reference: str = "",
    by: User | None = None,
    of: Receiving | None = None,
) -> Delivery:
    """Take a delivery into stock: one lot a line, at its landed cost; `of` is the order that it came of.

    Raises Refused for an empty delivery, and for an order that cannot be received as it stands.
    """
    if not lines:
        raise Refused("Write at least one line: what came, how much, at what price.")
    with open_book(by) as book:
        if of is not None:
            of.judge()
        order = None if of is None else of.order
        return add_delivery(book, DeliveryRecord(supplier, lines, charges, reference, order), day)


def add_delivery(book: Book, record: DeliveryRecord, day: date) -> Delivery:
    if record.order is not None:
        check_day(record.order, day)
    book.read(*(line.material for line in record.lines))
    draft = book.begin(Entry.Kind.DELIVERY, day, note=record.reference)
    delivery = book.reuse(Delivery) or Delivery()
    delivery.supplier, delivery.entry, delivery.received_on = record.supplier, draft.entry, day
    delivery.reference, delivery.order, charges = record.reference, record.order, record.charges
    delivery.carriage_micro, delivery.duty_micro = charges.carriage_micro, charges.duty_micro
    delivery.tax_micro, delivery.spread_by = charges.tax_micro, charges.spread_by
    book.make(delivery)
    source = book.outside(Holder.Place.SUPPLIER)
    for line, share in zip(record.lines, spread_charges(record.lines, charges), strict=True):
        material = kept_as(line.material, line.guess)
        lot = make_lot(book, draft, material, Lot.Origin.BOUGHT, line.lot)
        lot.bought_as = None if material == line.material else line.material
        lot.supplier, lot.delivery = record.supplier, delivery
        lot.supplier_batch, lot.use_by, lot.kept_in = line.supplier_batch, line.use_by, line.kept_in
        fine_ug = count_fine(book, draft, lot, line.quantity, line.guess)
        goods = Amount(line.quantity, fine_ug, line.price_micro)
        book.move(draft, source, lot.holder, goods, What.GOODS)
        book.move(draft, source, lot.holder, Amount(cost_micro=share), What.CHARGES)
    return delivery


def make_lot(book: Book, draft: Draft, material: Material, origin: str, old: Lot | None = None) -> Lot:
    """A new, empty lot that will be written with the posting; fill it with `book.move`.

    Where an entry is written again it is the lot that it made before: `old`, or the first of this origin.
    """
    lot = book.reuse(Lot, pk=old.pk) if old else book.reuse(Lot, origin=origin)
    if lot is None:
        lot = blank(Lot)
        lot.holder = book.new_holder(Holder.Kind.LOT)
    lot.material, lot.entry, lot.origin, lot.received_on = material, draft.entry, origin, draft.entry.day
    is_guess = material.kind == Material.Kind.METAL and is_unproved(origin, material)
    lot.fineness_by = By.GUESS if is_guess else By.MARKED
    lot.fine_low_ppm = lot.fine_high_ppm = None
    book.make(lot)
    return lot


def kept_as(material: Material, guess: Guess | None) -> Material:
    """The material that metal is kept as: mixed metal where its fineness is a guess with ends of its own."""
    return material if guess is None else mixed_material(material)


def count_fine(book: Book, draft: Draft, lot: Lot, quantity: int, guess: Guess | None) -> int:
    """The fine metal (micrograms) that a lot comes in with: by its alloy, or the middle of what it may be."""
    if guess is None:
        alloy = lot.material.alloy
        if alloy is not None and alloy.is_mixed:
            raise Refused(
                f"{lot.material} is of no alloy's fineness: write from what to what it may be.", "guess"
            )
        return quantity * lot.material.fineness
    low_ppm, high_ppm = guess
    if not 0 <= low_ppm <= high_ppm <= PPM_WHOLE:
        raise Refused("A fineness is from 0 to 1000, and from the lower figure to the higher.", "guess")
    lot.fineness_by, lot.fine_low_ppm, lot.fine_high_ppm = By.GUESS, low_ppm, high_ppm
    said = FinenessNote(lot=lot, entry=draft.entry, fineness_by=By.GUESS, low_ppm=low_ppm, high_ppm=high_ppm)
    book.make(said)
    return compute_middle_ug(quantity, low_ppm, high_ppm)


def post_late_bill(
    delivery: Delivery, amount_micro: int, day: date, note: str = "", by: User | None = None
) -> Entry:
    """Add a bill that came after a delivery to what is left of its lots.

    Each lot's share goes on what is still there; the share of what is already used goes to the named place
    for late bills, which reports show, and never into casts that are closed. Raises Refused for a bill of nothing.
    """
    if amount_micro <= 0:
        raise Refused("Write what the bill came to, more than nothing.", "amount")
    with open_book(by) as book:
        return add_bill(book, Bill(delivery, charges_micro=amount_micro), day, note)


def post_mended_bill(
    delivery: Delivery,
    prices_micro: Mapping[int, int],
    charges_micro: int,
    day: date,
    note: str = "",
    by: User | None = None,
) -> Entry:
    """Put right what a delivery cost: the price of each lot by its key, and carriage, duty and tax together.

    More or less, the difference goes where a late bill goes. Raises Refused when nothing differs, and when more
    should come off a lot than what is left of it cost.
    """
    with open_book(by) as book:
        rows = landed_rows(delivery)
        changes = {
            row.lot.pk: prices_micro.get(row.lot.pk, row.price_micro) - row.price_micro for row in rows
        }
        more_micro = charges_micro - sum(row.charges_micro for row in rows)
        if not more_micro and not any(changes.values()):
            raise Refused("That is what the delivery costs already: nothing differs.")
        return add_bill(book, Bill(delivery, changes, more_micro), day, note)


@dataclass(frozen=True)
class Bill:
    """What a later bill changes of a delivery: prices of lots by their keys, and carriage, duty and tax in one."""

    delivery: Delivery
    prices_micro: Mapping[int, int] = field(default_factory=dict)
    charges_micro: int = 0


def add_bill(book: Book, bill: Bill, day: date, note: str = "") -> Entry:
    delivery = bill.delivery
    bring_up_to_date([delivery])
    if delivery.void:
        raise Refused("This delivery was taken back; enter the bill with the delivery that replaced it.")
    if day < delivery.received_on:
        raise Refused("A late bill is not from before its delivery. Choose a later day.", "day")
    rows = landed_rows(delivery)
    book.read(*(row.lot for row in rows))
    draft = book.begin(Entry.Kind.LATE_BILL, day, note=note)
    draft.entry.bill_for = delivery
    for row, charges_micro in zip(rows, _shares_of_bill(bill, rows), strict=True):
        line = BillLine(
            entry=draft.entry,
            lot=row.lot,
            price_micro=bill.prices_micro.get(row.lot.pk, 0),
            charges_micro=charges_micro,
        )
        if line.price_micro or line.charges_micro:
            book.make(line)
        _put_on_lot(book, draft, row, line.price_micro, What.GOODS)
        _put_on_lot(book, draft, row, line.charges_micro, What.CHARGES)
    return draft.entry


def _shares_of_bill(bill: Bill, rows: Sequence[LandedRow]) -> list[int]:
    """What changes for each lot of the charges: all of them go by the prices as they now are, like a delivery's own."""
    by_mass = bill.delivery.spread_by == Delivery.SpreadBy.MASS
    prices = [row.price_micro + bill.prices_micro.get(row.lot.pk, 0) for row in rows]
    if min(prices) < 0:
        raise Refused("A price is never below nothing.", "prices")
    weights = [row.quantity for row in rows] if by_mass else prices
    if any(bill.prices_micro.values()) or bill.charges_micro < 0:
        total_micro = sum(row.charges_micro for row in rows) + bill.charges_micro
        if total_micro < 0:
            raise Refused("Carriage, duty and tax are never below nothing.", "charges")
        shares = allocate_largest_remainder(total_micro, weights)
        return [share - row.charges_micro for share, row in zip(shares, rows, strict=True)]
    return allocate_largest_remainder(bill.charges_micro, weights)


def _put_on_lot(book: Book, draft: Draft, row: LandedRow, change_micro: int, what: str) -> None:
    """A change goes on what is left of a lot, or comes off it; the part of what is used stands with late bills."""
    holder, supplier, late = row.lot.holder, *map(book.outside, (Holder.Place.SUPPLIER, Holder.Place.LATE))
    left = min(holder.quantity, row.quantity)
    here, used = allocate_largest_remainder(abs(change_micro), [left, row.quantity - left])
    if change_micro > 0:
        book.move(draft, supplier, holder, Amount(cost_micro=here), what)
        book.move(draft, supplier, late, Amount(cost_micro=used), what)
        return
    if here > holder.cost_micro:
        raise Refused(
            f"{row.lot} holds {print_money(holder.cost_micro)} of its cost, and {print_money(here)} is to come off it.",
            "prices",
        )
    book.move(draft, holder, supplier, Amount(cost_micro=here), what)
    book.move(draft, late, supplier, Amount(cost_micro=used), what)
