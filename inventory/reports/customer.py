"""What a customer gets in writing: a receipt for their metal, and the statement that adds up to its hand-back."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from inventory.core.ledger import Amount, total_of
from inventory.forms.customers import ReceiptForm, StatementForm
from inventory.models import Alloy, Customer, Entry, Holder, Lot, Movement, Receipt
from inventory.queries.customers import (
    Crossing,
    Held,
    alloys_by_key,
    crossings_of,
    held_of,
    weighed_in,
)
from inventory.queries.studio import current_studio
from studio.kit.documents import (
    Block,
    Column,
    Facts,
    Filled,
    NoteLines,
    Prose,
    Table,
    fill_table,
    show_kind,
    summed,
)
from studio.kit.printing import print_day, print_mass
from studio.kit.reporting import report
from studio.kit.rounding import Cell, round_to_add_up

from .making import make_document

Kind = Entry.Kind
_CAME = {
    Kind.HANDED_IN: "Taken in",
    Kind.TOP_UP: "From the studio's metal",
    Kind.FOUND: "Found later, of what was lost",
    Kind.COUNT: "Found at a count",
    Kind.RETURN: "Came back in pieces",
}
_WENT = {
    Kind.SALE: "Handed over in pieces",
    Kind.HAND_BACK: "Handed back",
    Kind.CLOSE: "Lost at the pour",
    Kind.FINISH: "Lost in finishing",
    Kind.SCRAP: "Thrown away",
    Kind.COUNT: "Missing at a count",
    Kind.CHARGE: "Fine metal of another kind, no longer counted",
}
_HERE = {
    Holder.Kind.LOT.value: "Here, not in a cast",
    Holder.Kind.CRUCIBLE.value: "In casts under way",
    Holder.Kind.PIECE.value: "In pieces that are here",
}
_ONWARDS = "Used in casts of another of their metals"
_FROM_OTHER = "Out of another of their metals"
#: Fine metal is printed to the milligram.
_FINE_STEP_UG = 1_000
#: A scale's error at the pour gives back what it took: both count as lost.
_LOST = (Kind.CLOSE, Kind.FINISH)


@report(
    "customer-receipt",
    "Receipt for a customer's metal",
    "What somebody handed in, what it weighed, and what was taken out of it, to be signed by both.",
    ReceiptForm,
    place=50,
)
def build_receipt(params: Mapping[str, Any]) -> Any:
    lot: Lot = params["lot"]
    receipt = getattr(lot, "receipt", None) or Receipt(lot=lot)
    mass_mg = weighed_in(lot)
    facts = [
        ("From", f"{lot.owner}" + (f", {lot.owner.contact}" if lot.owner and lot.owner.contact else "")),
        ("Taken in", print_day(lot.received_on, with_year=True)),
        ("What it is", receipt.what or str(lot.material)),
        ("Weight", print_mass(mass_mg)),
        ("Reckoned as", str(lot.material)),
        ("Taken out before it was weighed", receipt.stones or "nothing"),
        ("Our number for it", f"Lot {lot.pk}"),
    ]
    if lot.material.fineness:
        fine = f"{show_kind('fine', mass_mg * lot.material.fineness)}, {_say_known(lot)}"
        facts.insert(5, ("Fine metal in it", fine))
    terms = (
        f"The metal stays {lot.owner}'s. It is kept apart from ours, and what it is cast into, the sprues and buttons "
        "that come back, the filings and what is left over are theirs too. What is lost in the fire and in finishing "
        "is theirs to bear, and stands in the statement that comes with the hand-back."
    )
    blocks: tuple[Block, ...] = (
        Facts(tuple(facts)),
        Prose(terms),
        NoteLines("Signed by whoever brought it, and the day", 1),
        NoteLines("Signed for the studio, and the day", 1),
    )
    return make_document(
        current_studio(), "Receipt for metal", blocks, f"receipt-lot-{lot.pk}", str(lot.owner)
    )


def _say_known(lot: Lot) -> str:
    return "as far as is known: nobody has proved it" if lot.fineness_is_guess else "proved"


@report(
    "customer-statement",
    "Statement of a customer's metal",
    "What came in, what was cast, handed over, lost and handed back, and what is still here: it adds up.",
    StatementForm,
    place=51,
)
def build_statement(params: Mapping[str, Any]) -> Any:
    customer: Customer = params["customer"]
    last: date = params["to"]
    crossings, held = crossings_of(customer, last), held_of(customer, last)
    keys = {one.alloy for one in crossings} | {one.alloy for one in held}
    alloys = alloys_by_key(sorted(keys))
    blocks: list[Block] = []
    for key, alloy in sorted(alloys.items(), key=lambda item: item[1].name):
        own = [one for one in crossings if one.alloy == key]
        blocks += [
            _account(alloy, own, [one for one in held if one.alloy == key]),
            _day_by_day(alloy, own),
        ]
    if not blocks:
        blocks.append(Prose(f"No metal of {customer}'s has been here."))
    blocks.append(NoteLines("Handed back and agreed, the day and both names", 2))
    period = f"up to {print_day(last, with_year=True)}"
    return make_document(
        current_studio(), "Statement of metal", blocks, f"statement-{customer.pk}", str(customer), period
    )


def _name(one: Crossing) -> str:
    kind = Kind(one.movement.entry.kind)
    came = one.change.quantity > 0 or (not one.change.quantity and one.change.fine_ug > 0)
    if one.is_inner:
        return _FROM_OTHER if came else _ONWARDS
    if kind in _LOST:
        return _WENT[kind]
    names = _CAME if came else _WENT
    return names.get(kind, str(kind.label).capitalize())


def _account(alloy: Alloy, crossings: Sequence[Crossing], held: Sequence[Held]) -> Table:
    """What came, and under it where it is: the two add up to the same."""
    sums: dict[str, Amount] = defaultdict(Amount)
    came: set[str] = set()
    for one in crossings:
        name = _name(one)
        sums[name] += one.change
        if one.change.quantity > 0 and name not in _WENT.values():
            came.add(name)
    came_in = [(name, amount) for name, amount in sums.items() if name in came]
    went = [(name, Amount() - amount) for name, amount in sums.items() if name not in came]
    went += [(_HERE.get(one.kind, one.kind), one.amount) for one in held]
    total_in, total_out = (total_of(amount for _, amount in side) for side in (came_in, went))
    agrees = "What came adds up to the first sum, and what became of it to the second: they are the same."
    altered = "The two sums differ: the books were altered. Run the audit."
    rows = [*came_in, ("Came in all", total_in), *went]
    fine_in, fine_out = (_round_fine(amount.fine_ug for _, amount in side) for side in (came_in, went))
    return fill_table(
        f"{alloy}: what came, and where it is",
        (
            Filled(Column("what", "What"), [name for name, _ in rows], "Accounted for"),
            Filled(
                Column("mass", "Weight", "mass", on_phone=True),
                [amount.quantity for _, amount in rows],
                total_out.quantity,
            ),
            Filled(Column("fine", "Fine metal", "fine"), [*fine_in, sum(fine_in), *fine_out], sum(fine_out)),
        ),
        note=agrees if total_in == total_out else altered,
    )


def _round_fine(exact_ug: Iterable[int]) -> list[int]:
    """Fine metal as it is printed, so that what is shown adds up to the sum that is shown."""
    return round_to_add_up([Cell(fine_ug) for fine_ug in exact_ug], _FINE_STEP_UG)


def _day_by_day(alloy: Alloy, crossings: Sequence[Crossing]) -> Table:
    prices = [_price_of(one.movement) for one in crossings]
    filled = [
        Filled(Column("what", "What", on_phone=True), [_tell(one) for one in crossings], "Still here"),
        Filled(Column("day", "Day", "day"), [one.movement.day for one in crossings]),
        summed(Column("mass", "Weight", "mass", on_phone=True), [one.change.quantity for one in crossings]),
        summed(Column("fine", "Fine metal", "fine"), _round_fine(one.change.fine_ug for one in crossings)),
    ]
    if any(price is not None for price in prices):
        filled.append(summed(Column("price", "Price agreed", "money"), prices))
    return fill_table(f"{alloy}: day by day", filled, note="What went stands with a minus before it.")


def _price_of(line: Movement) -> int | None:
    return line.entry.top_up.price_micro if line.entry.kind == Kind.TOP_UP else None


def _tell(one: Crossing) -> str:
    """ "Taken in: six spoons", "Lost at the pour, cast 22", "Handed over in pieces: Bud ring 1, cast 22"."""
    entry, words = one.movement.entry, _name(one)
    if entry.kind == Kind.HANDED_IN:
        receipt = getattr(one.movement.target.lot, "receipt", None)
        said = receipt.what if receipt is not None else ""
        return f"{words}: {said or f'lot {one.movement.target.lot.pk}'}"
    if entry.piece is not None:
        return f"{words}: {entry.piece.name}, cast {entry.piece.cast.number}"
    if entry.cast is not None:
        return f"{words}, cast {entry.cast.number}"
    return words
