"""Postings of what goes to a refiner and comes back: a batch that is sent, its settlements, a batch sent back."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib.auth.models import User

from inventory.core.fineness import compute_middle_ug
from inventory.core.ledger import Amount, draw, total_of
from inventory.core.refiners_paper import SettlementSum, compute_settlement
from inventory.core.refining import WHOLE_ASSAY, Charges, Melt, Price
from inventory.core.settling import Split, split_by_weight, split_return, split_settlement
from inventory.core.weighing import compute_weighing_uncertainty
from inventory.models import (
    Alloy,
    Batch,
    Entry,
    Holder,
    Lot,
    Material,
    Movement,
    Refiner,
    RefinerTerms,
    Settlement,
)
from inventory.queries.fineness import put_right_since, said_of
from inventory.queries.ledger import name_lot, turn_of
from inventory.queries.refining import amounts_sent
from studio.kit.printing import print_fine, print_mass, print_quantity
from studio.kit.units import PCT100_WHOLE

from .book import Book, Draft, balance_of, open_book
from .buying import make_lot
from .casting import Portion
from .refusal import Refused

Place, What = Holder.Place, Movement.What
#: How much more than was sent a refiner's scale may show, in hundredths of a per cent. Common practice.
MOST_GAIN_PCT100 = 200


@dataclass(frozen=True)
class BatchFacts:
    """What stands on a batch besides its metal. The price is of a unit of fine metal, reckoned with on the day."""

    refiner: Refiner
    terms: RefinerTerms | None = None
    reference: str = ""
    price: Price | None = None


@dataclass(frozen=True)
class MetalBack:
    """Metal that a refiner gave back: what it is, milligrams, and the lot it made already where it is written again."""

    material: Material
    mass_mg: int
    made: Lot | None = None

    @property
    def fine_ug(self) -> int:
        return self.mass_mg * self.material.fineness


@dataclass(frozen=True)
class SettledPart:
    """What a refiner's paper says. `received_mg` is the part of the batch that it is for, None for all that is left.

    `money_micro` is what came, below zero where the studio paid; None for what the sum comes to. What is paid
    `by_weight` has no assay, and WHOLE_ASSAY stands in its place.
    """

    melted_mg: int
    assay: int
    payable_pct100: int
    charges: Charges = Charges()
    price: Price | None = None
    metals: Sequence[MetalBack] = ()
    received_mg: int | None = None
    money_micro: int | None = None
    reference: str = ""
    by_weight: bool = False

    def sum_of(self, received_mg: int) -> SettlementSum:
        """What it comes to. Raises ValueError where more metal came back than is payable."""
        melt = Melt(received_mg, self.melted_mg, self.assay, self.by_weight)
        metal_ug = sum(back.fine_ug for back in self.metals)
        return compute_settlement(melt, self.payable_pct100, self.charges, self.price, metal_ug)


def write_terms(refiner: Refiner, since: date, **terms: Any) -> RefinerTerms:
    """Write the terms that hold from a day, in the place of others of that day."""
    return RefinerTerms.objects.update_or_create(refiner=refiner, since=since, defaults=terms)[0]


def post_send(
    facts: BatchFacts, portions: Sequence[Portion], day: date, note: str = "", by: User | None = None
) -> Batch:
    """Send parts of lots to a refiner as one batch. It stays the studio's metal, or its customer's.

    Raises Refused for lots of several precious metals, of several alloys without one, or of several owners.
    """
    with open_book(by) as book:
        return add_send(book, portions, day, note, facts)


def add_send(
    book: Book, portions: Sequence[Portion], day: date, note: str = "", facts: BatchFacts | None = None
) -> Batch:
    """`facts` are those of a new batch; one that is written again keeps its own."""
    if not portions:
        raise Refused("Write how much of which lot goes, one at least.", "lots")
    lots = [portion.lot for portion in portions]
    book.read(*lots)
    _refuse_mixture(lots)
    draft = book.begin(Entry.Kind.SEND, day, note=note)
    batch = book.reuse(Batch) or Batch(holder=book.new_holder(Holder.Kind.BATCH))
    if facts is not None:
        batch.refiner, batch.terms, batch.reference = facts.refiner, facts.terms, facts.reference
        batch.price_micro, batch.price_unit = facts.price or (None, batch.price_unit)
        batch.usual_days = facts.terms.usual_days if facts.terms else batch.usual_days
    batch.entry, batch.sent_on, batch.owner = draft.entry, day, lots[0].owner
    batch.alloy = _main_alloy(portions)
    book.make(batch)
    for portion in portions:
        if portion.quantity <= 0:
            raise Refused("Write how much goes, more than nothing.", "lots")
        book.take(draft, portion.lot.holder, batch.holder, portion.quantity, field="lots")
    return batch


def _refuse_mixture(lots: Sequence[Lot]) -> None:
    alloys = [lot.material.alloy for lot in lots]
    if any(lot.material.kind != Material.Kind.METAL for lot in lots):
        raise Refused("A refiner is sent metal: leave out what is none.", "lots")
    metals = {alloy.metal for alloy in alloys if alloy is not None}
    if len(metals) > 1:
        raise Refused(
            "A batch is of one metal, for it is assayed and paid for one: send "
            f"{' and '.join(sorted(str(Alloy.Metal(metal).label) for metal in metals))} apart.",
            "lots",
        )
    if metals == {Alloy.Metal.BASE} and len(set(alloys)) > 1:
        names = " and ".join(sorted({str(alloy) for alloy in alloys}))
        raise Refused(f"What is paid by its weight is sent by its alloy: send {names} apart.", "lots")
    if len({lot.owner_id for lot in lots}) > 1:
        raise Refused(
            "A batch holds the studio's own metal, or that of one customer: send them apart.", "lots"
        )


def _main_alloy(portions: Sequence[Portion]) -> Alloy:
    sums: dict[Alloy, int] = {}
    for portion in portions:
        alloy = portion.lot.material.alloy
        assert alloy is not None  # noqa: S101 - metal alone is sent
        sums[alloy] = sums.get(alloy, 0) + portion.quantity
    return max(sums, key=lambda alloy: (sums[alloy], -alloy.pk))


def post_settle(
    batch: Batch, part: SettledPart, day: date, note: str = "", by: User | None = None
) -> Settlement:
    """Book what a refiner's paper says: what was lost, what the assay put right, what came back, was paid and kept.

    Raises Refused when the batch holds less, and for a paper that cannot be.
    """
    with open_book(by) as book:
        return add_settle(book, batch, part, day, note)


def add_settle(book: Book, batch: Batch, part: SettledPart, day: date, note: str = "") -> Settlement:
    book.read(batch, *(back.material for back in part.metals))
    held = balance_of(batch.holder)
    found = sum_settled(batch, part)
    received_mg = held.quantity if part.received_mg is None else part.received_mg
    draft = book.begin(Entry.Kind.SETTLE, day, note=note)
    settlement = book.reuse(Settlement) or Settlement()
    settlement.entry, settlement.batch, settlement.settled_on = draft.entry, batch, day
    settlement.received_mg, settlement.money_micro = received_mg, found.money_micro
    _write_paper(settlement, part)
    book.make(settlement)
    # What a customer's metal costs stands in the settlement; their lots carry none.
    landing = 0 if batch.owner_id is not None else part.charges.total_micro
    metals = [(back.mass_mg, back.fine_ug) for back in part.metals]
    drawn = draw(held, received_mg)
    if batch.is_by_weight:
        split = split_by_weight(drawn, part.melted_mg, found.payable_ug)
    else:
        split = split_settlement(drawn, part.melted_mg, found.fine_ug, found.payable_ug, metals, landing)
    _move_differences(book, draft, batch.holder, split)
    _move_back(book, draft, batch, part.metals, split)
    refiner = book.outside(Place.REFINER)
    book.move(draft, batch.holder, refiner, split.paid, What.PAID)
    book.move(draft, batch.holder, refiner, split.kept, What.KEPT)
    return settlement


def sum_settled(batch: Batch, part: SettledPart) -> SettlementSum:
    """What a paper comes to, for the batch as it was read. Raises Refused for one that cannot be."""
    left_mg = batch.holder.quantity
    if not left_mg:
        raise Refused(f"{batch} holds nothing any more: it is settled, or was sent back.")
    received_mg = left_mg if part.received_mg is None else part.received_mg
    _refuse_part(batch, part, received_mg)
    try:
        return part.sum_of(received_mg)
    except ValueError as more:
        fine = print_fine(sum(back.fine_ug for back in part.metals))
        raise Refused(
            f"{fine} of fine metal came back, which is more than is payable. Mend the weights; what was bought from "
            "the refiner on top comes in as a delivery.",
            "metal",
        ) from more


def _write_paper(settlement: Settlement, part: SettledPart) -> None:
    settlement.is_rest = part.received_mg is None
    settlement.melted_mg, settlement.assay = part.melted_mg, part.assay
    settlement.payable_pct100, settlement.reference = part.payable_pct100, part.reference
    settlement.price_micro, settlement.price_unit = part.price or (None, settlement.price_unit)
    settlement.charge_micro, settlement.assay_fee_micro = (
        part.charges.charge_micro,
        part.charges.assay_fee_micro,
    )
    settlement.other_micro = part.charges.other_micro
    if part.money_micro is not None:
        settlement.money_micro = part.money_micro


def _refuse_part(batch: Batch, part: SettledPart, received_mg: int) -> None:
    left = batch.holder.quantity
    if not 0 < received_mg <= left:
        raise Refused(
            f"{batch} holds {print_mass(left)}; write how much of it is settled, up to that.", "received"
        )
    most = received_mg * (PCT100_WHOLE + MOST_GAIN_PCT100) // PCT100_WHOLE
    if part.melted_mg > most:
        raise Refused(
            f"It cannot melt to more than was sent: {print_mass(received_mg)}. Mend this weight, or mend first what "
            "was sent, if that was weighed wrong.",
            "melted",
        )
    if batch.is_by_weight != part.by_weight or (
        part.by_weight and (part.metals or part.assay != WHOLE_ASSAY)
    ):
        raise Refused(
            f"{batch} is paid for by its weight: without an assay, and in money."
            if batch.is_by_weight
            else f"{batch} is paid for by its assay.",
            "assay",
        )
    for back in part.metals:
        if back.mass_mg <= 0:
            raise Refused("Write how much came back, more than nothing.", "metal")
        alloy = back.material.alloy
        if alloy is not None and alloy.is_mixed:
            raise Refused(
                f"{back.material} is of no alloy's fineness: choose what the refiner's paper says it is.",
                "metal",
            )
        if alloy is None or alloy.metal != batch.alloy.metal or not back.material.fineness:
            raise Refused(
                f"{back.material} is no {batch.alloy.get_metal_display()}: metal of another kind that a refiner gave "
                "is bought from them; enter a delivery.",
                "metal",
            )


def _move_differences(book: Book, draft: Draft, holder: Holder, split: Split) -> None:
    lost, assay = book.outside(Place.REF_LOST), book.outside(Place.REF_ASSAY)
    book.move(draft, holder, lost, split.lost, What.LOSS)
    book.move(draft, lost, holder, split.gained, What.LOSS)
    ends = (holder, assay) if split.assay_ug > 0 else (assay, holder)
    book.move(draft, *ends, Amount(fine_ug=abs(split.assay_ug)), What.ASSAY)


def _move_back(book: Book, draft: Draft, batch: Batch, metals: Sequence[MetalBack], split: Split) -> None:
    """Each sort of metal into a lot of its own: its share of the batch, base metal that the refiner put to it, and its
    share of what the refiner charged."""
    refiner = book.outside(Place.REFINER)
    for back, share in zip(metals, split.metals, strict=True):
        lot = make_lot(book, draft, back.material, Lot.Origin.REFINED, back.made)
        lot.owner, lot.supplier_batch = batch.owner, f"batch {batch.pk}"
        book.move(draft, batch.holder, lot.holder, share.amount, What.METAL)
        book.move(draft, refiner, lot.holder, Amount(share.added_mg), What.METAL)
        book.move(draft, refiner, lot.holder, Amount(cost_micro=share.fee_micro), What.CHARGES)


def post_sent_back(
    batch: Batch, portions: Sequence[Portion], day: date, note: str = "", by: User | None = None
) -> Entry:
    """All that a batch still holds comes back unsettled, into the lots that it came from.

    What is missing by weighing is lost at the refiner. Raises Refused for a lot that is not in the batch, and for more
    than was sent beyond what a scale explains.
    """
    with open_book(by) as book:
        return add_sent_back(book, batch, portions, day, note)


def add_sent_back(book: Book, batch: Batch, portions: Sequence[Portion], day: date, note: str = "") -> Entry:
    sent = put_right_since(batch, amounts_sent(batch))
    lots = {lot.pk: lot for lot in sent}
    came = {portion.lot.pk: portion.quantity for portion in portions if portion.quantity}
    if not came:
        raise Refused("Write what came back, of one lot at least.", "lots")
    for portion in portions:
        if portion.lot.pk not in lots:
            raise Refused(f"{name_lot(portion.lot)} is not in this batch.", "lots")
    book.read(batch, *lots.values())
    held = balance_of(batch.holder)
    if not held.quantity:
        raise Refused(f"{batch} holds nothing any more: it is settled, or was sent back.")
    draft = book.begin(Entry.Kind.SENT_BACK, day, note=note)
    shares = split_return(held, list(sent.values()), [came.get(pk, 0) for pk in lots])
    hair_mg = compute_weighing_uncertainty(book.studio.scale_division_mg, 2).tolerance_mg
    lost = book.outside(Place.REF_LOST)
    for lot, (back, missing) in zip(lots.values(), shares, strict=True):
        if missing.quantity < -hair_mg or came.get(lot.pk, 0) > back.quantity:
            there = print_quantity(back.quantity + missing.quantity, "mass")
            raise Refused(
                f"{name_lot(lot)} has {there} in the batch: more cannot come back. Mend the weight, or first what "
                "was sent.",
                "lots",
            )
    gained = total_of(Amount() - missing for _, missing in shares if missing.quantity < 0)
    book.move(draft, lost, batch.holder, gained, What.LOSS)
    for lot, (back, missing) in zip(lots.values(), shares, strict=True):
        book.move(draft, batch.holder, lot.holder, back)
        if missing.quantity >= 0:
            book.move(draft, batch.holder, lost, missing, What.LOSS)
    _put_right(book, draft, batch, {lot: back for lot, (back, _) in zip(lots.values(), shares, strict=True)})
    return draft.entry


def _put_right(book: Book, draft: Draft, batch: Batch, came: Mapping[Lot, Amount]) -> None:
    """What comes back is of the fineness that its lot was said to be of meanwhile, to the last unit."""
    assay = book.outside(Place.ASSAY)
    for lot_id, note in said_of(came, since=turn_of(batch.entry)).items():
        lot = next(one for one in came if one.pk == lot_id)
        back = came[lot]
        fine_ug = compute_middle_ug(back.quantity, note.low_ppm or 0, note.high_ppm or 0)
        more_ug = fine_ug - back.fine_ug
        ends = (assay, lot.holder) if more_ug > 0 else (lot.holder, assay)
        book.move(draft, *ends, Amount(fine_ug=abs(more_ug)), What.ASSAY)
