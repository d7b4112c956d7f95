"""The checks of tins: what lies in one is alike, and its melts are those of what was put in."""

from typing import Any

from django.db.models import QuerySet

from inventory.core.alloying import compute_mean_melts_milli
from inventory.models import Entry, Lot
from inventory.queries.kept import kept

from .reading import Ledger
from .registry import Finding, register_check

_TIN = ("tin", "material", "origin", "owner", "tin__material", "tin__kind", "tin__owner")


@register_check
def check_tins(ledger: Ledger) -> Finding:
    """A tin's lot is of the tin's metal, kind and owner, and so is all that went into it."""
    finding = Finding("what lies in a tin is of one metal, one kind and one owner; its melts are right")
    lots: dict[int, tuple[int, int, list[int | None]]] = {}
    for pk, holder, melts_milli, void, tin, *sort in _lots():
        lots[holder] = (pk, melts_milli, sort[:3])
        if tin is not None and not void and sort[:3] != sort[3:]:
            finding.problems.append(f"lot {pk} is in tin {tin}, which takes metal of another sort")
    for entry, rows in ledger.postings(Entry.Kind.TOGETHER, Entry.Kind.APART):
        if not ledger.standing(entry):
            continue
        finding.checked += 1
        made, milli, sort = lots[rows[0].target]
        if any(row.target != rows[0].target or lots[row.source][2] != sort for row in rows):
            finding.problems.append(f"entry {entry.pk} puts metal of two sorts, or into two lots, together")
        expected = compute_mean_melts_milli([(row.quantity, lots[row.source][1]) for row in rows])
        if milli != expected:
            finding.problems.append(
                f"lot {made} says {milli} melts_milli; what it was made of has {expected}"
            )
    return finding


@kept
def _lots() -> QuerySet[Lot, Any]:
    return Lot.objects.order_by("pk").values_list("pk", "holder", "melts_milli", "void", *_TIN)
