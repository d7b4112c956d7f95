"""Postings of what is bought: deliveries, and bills that come after the goods."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.contrib.auth.models import User

from inventory.core.ledger import Amount
from inventory.models import Delivery, Entry, Holder, Lot, Material, Movement, Supplier
from studio.kit.apportion import allocate_largest_remainder

from .book import Book, Draft, open_book
from .locking import bring_up_to_date
from .refusal import Refused

What = Movement.What


@dataclass(frozen=True)
class DeliveryLine:
    """One line of a delivery: quantity in the material's small unit, its own price without carriage and duty."""

    material: Material
    quantity: int
    price_micro: int
    supplier_batch: str = ""
    use_by: date | None = None
    kept_in: str = ""


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
) -> Delivery:
    """Take a delivery into stock: one lot a line, at its landed cost. Raises Refused for an empty delivery."""
    if not lines:
        raise Refused("Write at least one line: what came, how much, at what price.")
    with open_book(by) as book:
        book.read(*(line.material for line in lines))
        draft = book.begin(Entry.Kind.DELIVERY, day, note=reference)
        delivery = Delivery(
            supplier=supplier,
            entry=draft.entry,
            received_on=day,
            reference=reference,
            carriage_micro=charges.carriage_micro,
            duty_micro=charges.duty_micro,
            tax_micro=charges.tax_micro,
            spread_by=charges.spread_by,
        )
        book.make(delivery)
        source = book.outside(Holder.Place.SUPPLIER)
        for line, share in zip(lines, spread_charges(lines, charges), strict=True):
            lot = make_lot(book, draft, line.material, Lot.Origin.BOUGHT)
            lot.supplier, lot.delivery = supplier, delivery
            lot.supplier_batch, lot.use_by, lot.kept_in = line.supplier_batch, line.use_by, line.kept_in
            goods = Amount(line.quantity, line.quantity * line.material.fineness, line.price_micro)
            book.move(draft, source, lot.holder, goods, What.GOODS)
            book.move(draft, source, lot.holder, Amount(cost_micro=share), What.CHARGES)
    return delivery


def make_lot(book: Book, draft: Draft, material: Material, origin: str) -> Lot:
    """A new, empty lot that will be written with the posting; fill it with `book.move`."""
    lot = Lot(
        material=material,
        holder=book.new_holder(Holder.Kind.LOT),
        entry=draft.entry,
        origin=origin,
        received_on=draft.entry.day,
        fineness_is_guess=origin == Lot.Origin.HANDED_IN or material.form == Material.Form.SCRAP,
    )
    book.make(lot)
    return lot


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
        bring_up_to_date([delivery])
        if delivery.void:
            raise Refused("This delivery was reversed; enter the bill with the delivery that replaced it.")
        if day < delivery.received_on:
            raise Refused("A late bill is not from before its delivery. Choose a later day.", "day")
        received = list(
            Movement.objects.filter(entry=delivery.entry_id, what=What.GOODS)
            .order_by("line")
            .values_list("target_id", "quantity", "cost_micro")
        )
        holders = book.hold(holder_id for holder_id, _, _ in received)
        draft = book.begin(Entry.Kind.LATE_BILL, day, note=note)
        draft.entry.bill_for = delivery
        by_mass = delivery.spread_by == Delivery.SpreadBy.MASS
        shares = allocate_largest_remainder(amount_micro, [row[1] if by_mass else row[2] for row in received])
        supplier = book.outside(Holder.Place.SUPPLIER)
        for (holder_id, quantity, _), share in zip(received, shares, strict=True):
            holder = holders[holder_id]
            left = min(holder.quantity, quantity)
            here, used = allocate_largest_remainder(share, [left, quantity - left])
            book.move(draft, supplier, holder, Amount(cost_micro=here), What.CHARGES)
            book.move(draft, supplier, book.outside(Holder.Place.LATE), Amount(cost_micro=used), What.CHARGES)
    return draft.entry
