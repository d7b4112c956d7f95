"""The checks of what is at a refiner: whose it is, and that each settlement's lines are what its paper says."""

from typing import Any

from django.db.models import QuerySet

from inventory.core.ledger import Amount, total_of
from inventory.core.refining import Melt, compute_payable
from inventory.models import Entry, Holder, Lot, Movement, Settlement
from inventory.models.refining import is_by_weight
from inventory.queries.kept import kept
from inventory.queries.ledger import STANDING

from .reading import Ledger, Row
from .registry import Finding, register_check

What = Movement.What


@register_check
def check_sent_by_their_owner(ledger: Ledger) -> Finding:
    finding = Finding("a batch holds its owner's metal alone, and gives it back to them")
    ends = {Entry.Kind.SEND: ("source", "target"), Entry.Kind.SETTLE: ("target", "source")}
    for kind, (lot, batch) in ends.items():
        for entry, of_lot, owner, of_batch, batch_owner in _between_lots_and_batches(kind, lot, batch):
            finding.checked += 1
            if owner != batch_owner:
                finding.problems.append(
                    f"entry {entry} moves between lot {of_lot} and batch {of_batch}, which have different owners"
                )
    return finding


@kept
def _between_lots_and_batches(kind: str, lot: str, batch: str) -> QuerySet[Movement, Any]:
    ends = {f"{lot}__lot__isnull": False, f"{batch}__batch__isnull": False}
    columns = ("entry", f"{lot}__lot", f"{lot}__lot__owner", f"{batch}__batch", f"{batch}__batch__owner")
    return Movement.objects.filter(STANDING, entry__kind=kind, **ends).order_by("pk").values_list(*columns)


@register_check
def check_settlements(ledger: Ledger) -> Finding:
    """Fine metal and weight of the paper are those that left the batch, and metal that came back is of its alloy."""
    finding = Finding("a settlement moved what its paper says")
    papers = {entry: paper for entry, *paper in _papers()}
    fineness: dict[int, int] = dict(_settled_lots())
    lost = ledger.places[Holder.Place.REF_LOST]
    for entry, rows in ledger.postings(Entry.Kind.SETTLE):
        if not ledger.standing(entry):
            continue
        finding.checked += 1
        paper = papers.pop(entry.pk, None)
        if paper is None:
            finding.problems.append(f"entry {entry.pk} settles and has no paper")
            continue
        holder, received_mg, melted_mg, assay, payable_pct100, metal = paper
        melt = Melt(received_mg, melted_mg, assay)
        out = total_of(row.amount for row in rows if row.source == holder and row.what not in _DIFFERENCES)
        kept = sum(row.fine_ug for row in rows if row.what == What.KEPT)
        weighed_mg = out.quantity + sum(
            row.quantity if row.target == lost else -row.quantity for row in rows if row.what == What.LOSS
        )
        payable_ug = compute_payable(melt.fine_ug, payable_pct100)
        told = (out.quantity, out.fine_ug, weighed_mg, kept)
        fine = (0, 0) if is_by_weight(metal) else (melt.fine_ug, melt.fine_ug - payable_ug)
        if told != (melted_mg, fine[0], received_mg, fine[1]):
            finding.problems.append(f"entry {entry.pk} moved {told} and its paper says otherwise")
        finding.problems += _wrong_lots(entry.pk, rows, fineness)
    finding.problems += [
        f"entry {entry} has a paper of a settlement and none of its lines" for entry in papers
    ]
    return finding


@kept
def _papers() -> QuerySet[Settlement, Any]:
    paper = ("received_mg", "melted_mg", "assay", "payable_pct100", "batch__alloy__metal")
    return Settlement.objects.filter(void=False).order_by("pk").values_list("entry", "batch__holder", *paper)


@kept
def _settled_lots() -> QuerySet[Lot, Any]:
    lots = Lot.objects.filter(entry__kind=Entry.Kind.SETTLE).order_by("pk")
    return lots.values_list("holder", "material__alloy__fineness")


_DIFFERENCES = (What.LOSS, What.ASSAY)


def _wrong_lots(entry: int, rows: list[Row], fineness: dict[int, int]) -> list[str]:
    sums: dict[int, Amount] = {}
    for row in rows:
        if row.target in fineness:
            sums[row.target] = sums.get(row.target, Amount()) + row.amount
    return [
        f"entry {entry} put {amount.fine_ug} fine_ug in {amount.quantity} into holder {holder}, another fineness"
        for holder, amount in sums.items()
        if amount.fine_ug != amount.quantity * fineness[holder]
    ]
