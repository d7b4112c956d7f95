"""The check of lots: whose they are, what they cost their owner, and the melts that their metal went through."""

from collections import defaultdict
from collections.abc import Iterator
from typing import Any, NamedTuple

from django.db.models import QuerySet

from inventory.core.alloying import compute_blend_melts_milli
from inventory.models import Entry, Lot
from inventory.queries.kept import kept

from .reading import Ledger
from .registry import Finding, register_check


class LotRow(NamedTuple):
    """A lot as the audit reads it, with the owner of the cast that it came from."""

    pk: int
    holder: int
    owner: int | None
    melts_milli: int
    void: bool
    from_cast: int | None
    cast_owner: int | None


@register_check
def check_lots(ledger: Ledger) -> Finding:
    """Customers' metal has no cost and stays its owner's; melts follow from what went into the crucible."""
    finding = Finding("customers' metal has no cost and stays theirs; melts are right")
    lots = {lot.holder: lot for lot in map(LotRow._make, _lots())}
    charged: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for entry, charge in ledger.postings(Entry.Kind.CHARGE):
        for row in charge if ledger.standing(entry) else ():
            if row.source in lots:
                charged[entry.cast_id or 0].append((row.quantity, lots[row.source].melts_milli))
    # Lots of one cast share its melts.
    melts = {cast: compute_blend_melts_milli(portions) for cast, portions in charged.items()}
    for lot in lots.values():
        finding.checked += 1
        finding.problems += _lot_problems(lot, ledger, melts)
    return finding


@kept
def _lots() -> QuerySet[Lot, Any]:
    columns = ("pk", "holder_id", "owner_id", "melts_milli", "void", "from_cast_id")
    return Lot.objects.order_by("pk").values_list(*columns, "from_cast__owner_id")


def _lot_problems(lot: LotRow, ledger: Ledger, melts: dict[int, int]) -> Iterator[str]:
    cost_micro = ledger.balance(lot.holder).cost_micro
    if lot.owner is not None and cost_micro:
        yield f"lot {lot.pk} belongs to a customer and carries cost_micro {cost_micro}"
    if lot.from_cast is None or lot.void:
        return
    if lot.cast_owner != lot.owner:
        yield f"lot {lot.pk} and the cast it came from have different owners"
    expected = melts.get(lot.from_cast, lot.melts_milli)
    if expected != lot.melts_milli:
        yield f"lot {lot.pk} says {lot.melts_milli} melts_milli; its charge makes {expected}"
