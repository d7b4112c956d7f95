"""What goes with a batch to its refiner, and what came of it: expected beside settled."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from inventory.core.ledger import Amount, total_of
from inventory.core.refining import Estimate, compute_estimate, compute_worth
from inventory.forms.refining_reports import BatchForm
from inventory.models import Batch, Holder, Lot
from inventory.queries.ledger import name_lot
from inventory.queries.refining import Outcome, amounts_sent, expected_of, outcomes_of, returns_of
from inventory.queries.studio import current_studio
from studio.kit.documents import (
    Block,
    Care,
    Column,
    Document,
    Facts,
    Filled,
    Heading,
    NoteLines,
    Prose,
    Table,
    WorkingBlock,
    fill_table,
    summed,
)
from studio.kit.printing import (
    print_alike,
    print_assay,
    print_date,
    print_fine,
    print_fineness,
    print_mass,
    print_money,
)
from studio.kit.reporting import report

from .making import make_document

_SIGN_LINES = 2
_PLACES = (Holder.Place.REF_LOST, Holder.Place.REF_ASSAY, Holder.Place.REFINER)
_PAPER = "money, in the record of the settlement"


@report(
    "packing-list",
    "Packing list for a refiner",
    "What is in a batch, by weight and fineness, to lie in the parcel. It says nothing of what it cost.",
    BatchForm,
    place=62,
)
def build_packing_list(params: Mapping[str, Any]) -> Document:
    batch: Batch = params["batch"]
    sent = amounts_sent(batch)
    lots = fill_table(
        "In the parcel",
        (
            Filled(Column("lot", "Lot"), [name_lot(lot) for lot in sent], "Together"),
            Filled(Column("metal", "Metal"), [str(lot.material.alloy) for lot in sent]),
            summed(Column("mass", "Weight", "mass", on_phone=True), [one.quantity for one in sent.values()]),
            Filled(
                Column("of", "Of 1000, by our book"),
                [print_fineness(one.fine_ug, one.quantity) for one in sent.values()],
            ),
            summed(Column("fine", "Fine metal", "fine"), [one.fine_ug for one in sent.values()]),
        ),
    )
    note = [Prose(batch.entry.note)] if batch.entry.note else []
    notes = NoteLines("Received, weighed and signed for:", _SIGN_LINES)
    return _document("Packing list", batch, (_facts(batch), lots, *note, notes, Care("dust")), "packing-list")


@report(
    "settlement",
    "A refiner's settlement",
    "What was expected of a batch beside what came of it: grams, fine metal and money, and where each difference went.",
    BatchForm,
    place=63,
)
def build_settlement(params: Mapping[str, Any]) -> Document:
    batch: Batch = params["batch"]
    outcomes, returns = outcomes_of(batch), returns_of(batch)
    estimate = estimate_of(batch, amounts_sent(batch))
    blocks: list[Block] = [_facts(batch)]
    if estimate and outcomes and not batch.holder.quantity:
        blocks.append(table_compared(batch, estimate, outcomes))
    for outcome in outcomes:
        blocks += _settled(batch, outcome)
    blocks += [Prose(f"What it held came back unsettled on {print_date(entry.day)}.") for entry in returns]
    if batch.holder.quantity:
        blocks.append(Prose(f"{print_mass(batch.holder.quantity)} is still there and not settled."))
    # The first page is the answer; how the figures came about stands behind it.
    workings = [estimate.working] if estimate else []
    workings += [outcome.sum.working for outcome in outcomes]
    blocks += [Heading("How it was worked out"), *map(WorkingBlock, workings)] if workings else []
    return _document("A refiner's settlement", batch, blocks, "settlement")


def _facts(batch: Batch) -> Facts:
    pairs = [
        ("Refiner", str(batch.refiner)),
        ("Sent", print_date(batch.sent_on)),
        ("Whose", str(batch.owner or "the studio's own")),
    ]
    pairs += [("Their number", batch.reference)] if batch.reference else []
    return Facts(tuple(pairs))


def estimate_of(batch: Batch, sent: Mapping[Lot, Amount]) -> Estimate | None:
    """What was expected of a batch by the terms it went on; None without terms or for one that was taken back."""
    if batch.terms is None or not sent:
        return None
    return compute_estimate(expected_of(sent.items()), batch.terms.of(batch.alloy.metal), batch.price)


def _settled(batch: Batch, outcome: Outcome) -> list[Block]:
    paper = outcome.settlement
    show = print_alike((paper.received_mg, paper.melted_mg))
    said = f"{show(paper.received_mg)} melted to {show(paper.melted_mg)}" + (
        "." if batch.is_by_weight else f" and assayed {print_assay(paper.assay)} of 1000."
    )
    blocks: list[Block] = [
        Heading(f"Settled {print_date(paper.settled_on)}"),
        Prose(said),
        table_outcome(outcome),
    ]
    if outcome.lots:
        named = ", ".join(f"{name_lot(lot)}" for lot in outcome.lots)
        blocks.append(Prose(f"Came back as metal: {named}."))
    if batch.owner_id is None:
        word = "loss" if outcome.gain_micro < 0 else "gain"
        blocks.append(
            Prose(
                f"Money for what did not come back as metal: {print_money(outcome.money_micro)}; in the book it had "
                f"{print_money(outcome.gone_micro)}: a {word} of {print_money(abs(outcome.gain_micro))}."
            )
        )
    return blocks


def table_outcome(outcome: Outcome) -> Table:
    """Where a settled part of a batch went, from what the book had to what was paid and kept."""
    lost = "Lost in the melt" if outcome.lost.quantity >= 0 else "More on their scale"
    assay = "Less by the assay" if outcome.assay_ug >= 0 else "More by the assay"
    rows: list[tuple[str, Amount]] = [
        ("As the book had it", outcome.part),
        (lost, outcome.lost),
        (assay, Amount(fine_ug=outcome.assay_ug)),
        ("Back as metal", outcome.metal),
        ("Paid in money", outcome.paid),
        ("Kept by the refiner", outcome.kept),
    ]
    return fill_table(
        "Where it went",
        (
            Filled(Column("what", "What"), [what for what, _ in rows]),
            Filled(Column("mass", "Grams", "mass", on_phone=True), [one.quantity for _, one in rows]),
            Filled(Column("fine", "Fine metal", "fine", on_phone=True), [one.fine_ug for _, one in rows]),
            Filled(Column("cost", "At cost", "money"), [one.cost_micro for _, one in rows]),
        ),
        note="The first line is what all others come to. Each figure is rounded by itself.",
    )


def table_compared(batch: Batch, estimate: Estimate, outcomes: Sequence[Outcome]) -> Table:
    """What was expected of a whole batch, what came of it, the difference, and where that stands in the book."""
    sums = [outcome.sum for outcome in outcomes]
    part = total_of(outcome.part for outcome in outcomes)
    melted_mg = sum(outcome.settlement.melted_mg for outcome in outcomes)
    lost, put_right, kept = (str(Holder.Place(place).label) for place in _PLACES)
    figures: list[tuple[str, int, int, Callable[[int], str], str]] = [
        ("Weight", part.quantity, melted_mg, print_alike((part.quantity, melted_mg)), lost),
        ("Fine metal", part.fine_ug, sum(one.fine_ug for one in sums), print_fine, f"{lost}; {put_right}"),
        ("Payable", estimate.payable_ug, sum(one.payable_ug for one in sums), print_fine, kept),
        ("Charges", estimate.charges_micro, sum(one.charges_micro for one in sums), print_money, _PAPER),
    ]
    if batch.is_by_weight:
        del figures[1]
    if estimate.left_micro is not None and all(outcome.settlement.price for outcome in outcomes):
        worth = sum(compute_worth(one.sum.payable_ug, one.settlement.price or (0, "g")) for one in outcomes)
        left_micro = worth - sum(one.charges_micro for one in sums)
        figures.append(
            ("Left, all of it at the price", estimate.left_micro[1], left_micro, print_money, _PAPER)
        )
    return fill_table(
        "Expected and settled",
        (
            Filled(Column("what", "What"), [row[0] for row in figures]),
            Filled(
                Column("expected", "Expected", "count", on_phone=True), [row[3](row[1]) for row in figures]
            ),
            Filled(Column("settled", "Settled", "count", on_phone=True), [row[3](row[2]) for row in figures]),
            Filled(Column("difference", "Difference", "count"), [row[3](row[2] - row[1]) for row in figures]),
            Filled(Column("where", "Stands in the book as"), [row[4] for row in figures]),
        ),
    )


def _document(title: str, batch: Batch, blocks: Sequence[Block], name: str) -> Document:
    return make_document(
        current_studio(),
        title,
        blocks,
        f"{name}-batch-{batch.pk}",
        f"Batch {batch.pk}, {batch.metal_words} for {batch.refiner}",
    )
