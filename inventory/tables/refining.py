"""Tables of refiners and of batches that are with them."""

from collections.abc import Mapping
from typing import Any

from django.utils import timezone
from django_tables2 import A

from inventory.core.ledger import Amount
from inventory.models import Batch, Lot
from inventory.queries.ledger import name_lot
from studio.kit import printing
from studio.kit.columns import (
    CountColumn,
    DayColumn,
    FineColumn,
    MassColumn,
    MoneyColumn,
    TextColumn,
    WordsColumn,
)
from studio.kit.measures import MEASURES
from studio.kit.rounding import round_column
from studio.kit.scale import round_weights
from studio.kit.tables import BaseTable

_EMPTY = (None, "", 0)


def describe_batch(batch: Batch) -> str:
    """How it stands with a batch: where it is and for how long, or how it ended."""
    if batch.void:
        return "taken back"
    if not batch.holder.quantity:
        return "settled" if batch.settled_count else "sent back"  # type: ignore[attr-defined]  # annotated by the query
    part = "partly settled, the rest " if batch.settled_count else ""  # type: ignore[attr-defined]  # the same
    late = (timezone.localdate() - batch.due_on).days
    over = f", {late} day{'' if late == 1 else 's'} longer than usual" if late > 0 else ""
    return f"{part}at the refiner{over}"


class RefinerTable(BaseTable):
    caption = "Refiners"

    name = TextColumn(linkify=("inventory:refiner-edit", [A("pk")]))
    contact = TextColumn("How to reach them", wide=True)
    batch_count = CountColumn("Batches", orderable=False)

    class Meta:
        empty_text = "No refiner yet. Write down to whom scrap, filings and sweeps go, and what they pay."


class BatchTable(BaseTable):
    """Rows come from `batches`."""

    caption = "Batches"
    total_label = "All batches"

    batch = TextColumn("Batch", accessor="pk", linkify=("inventory:batch-detail", {"pk": A("pk")}))
    refiner = TextColumn("Refiner", accessor="refiner__name")
    sent_on = DayColumn("Sent", wide=True)
    metal = TextColumn("Metal", accessor="alloy__metal", wide=True)
    owner = TextColumn("Whose", accessor="owner__name", default="own", wide=True)
    state = WordsColumn("How it stands", describe_batch)
    left = MassColumn("Still there", accessor="holder__quantity", empty_values=_EMPTY)
    cost = MoneyColumn("At cost", accessor="holder__cost_micro", empty_values=_EMPTY, wide=True)

    class Meta:
        empty_text = "Nothing was sent to a refiner yet."

    def render_batch(self, value: int) -> str:
        return str(value)

    def render_metal(self, record: Batch) -> str:
        return record.metal_words


class InBatchTable(BaseTable):
    """What was sent: (lot, amount) as rows of `lot`, `name` and the amount's figures."""

    caption = "Lots of the batch"

    name = TextColumn("Lot", linkify=("inventory:lot-detail", [A("lot")]), orderable=False)
    mass = MassColumn("Weight", orderable=False)
    fine = FineColumn("Fine metal", orderable=False)
    fineness = TextColumn("Of 1000", orderable=False, wide=True)
    cost = MoneyColumn("Cost", orderable=False, wide=True)

    total_label = "Together"


def batch_rows(sent: Mapping[Lot, Amount]) -> list[dict[str, Any]]:
    """What was sent, each figure rounded so that it adds up to what stands below, as on the packing list."""
    masses_mg = round_weights([amount.quantity for amount in sent.values()])
    fines_ug = round_column([amount.fine_ug for amount in sent.values()], MEASURES["fine"].column_unit)
    costs_micro = round_column([amount.cost_micro for amount in sent.values()], MEASURES["money"].column_unit)
    return [
        {
            "lot": lot.pk,
            "name": name_lot(lot),
            "mass": mass_mg,
            "fine": fine_ug,
            "fineness": printing.print_fineness(amount.fine_ug, amount.quantity),
            "cost": cost_micro,
        }
        for (lot, amount), mass_mg, fine_ug, cost_micro in zip(
            sent.items(), masses_mg, fines_ug, costs_micro, strict=True
        )
    ]
