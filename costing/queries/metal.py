"""Where metal came from and where it went, added up by the database: a few hundred rows however long the books."""

from datetime import date
from typing import Any

from django.db.models import BigIntegerField, BooleanField, Case, F, Q, Sum, Value, When
from django.db.models.functions import Coalesce

from costing.core.metal_account import End, Flow
from inventory.core.ledger import Amount
from inventory.models import Holder, Movement
from inventory.queries.ledger import STANDING

_MEASURES = ("quantity", "fine_ug", "cost_micro")


def metal_flows(first: date, last: date) -> list[Flow]:
    """Every flow of metal up to the last day, split at the first. Reversed entries and reversals are left out:
    both stand on the same day, so no balance misses them."""
    rows = (
        Movement.objects.filter(STANDING, day__lte=last)
        .annotate(**_end_of("source", first), **_end_of("target", first))
        .filter(Q(source_alloy__isnull=False) | Q(target_alloy__isnull=False))
        .order_by()
        .values(*_KEYS)
        .annotate(**_sums("before", Q(day__lt=first)), **_sums("during", Q(day__gte=first)))
    )
    return [_read_flow(row) for row in rows]


def late_bills_on_used(first: date, last: date) -> int:
    """What late bills of a time put on stock that was already used, of every material, in millionths."""
    sums = Movement.objects.filter(
        STANDING, target__place=Holder.Place.LATE, day__gte=first, day__lte=last
    ).aggregate(total=Sum("cost_micro", default=0))
    return int(sums["total"])


_ENDS = ("kind", "place", "alloy", "owner", "is_new")
_KEYS = (
    "entry__kind",
    *(f"{side}__{name}" for side in ("source", "target") for name in _ENDS[:2]),
    *(f"{side}_{name}" for side in ("source", "target") for name in _ENDS[2:]),
)


def _end_of(side: str, first: date) -> dict[str, Any]:
    """Alloy and owner of a holder, whatever it is, and whether it is a piece cast since the first day."""
    return {
        f"{side}_alloy": Coalesce(
            F(f"{side}__lot__material__alloy"), F(f"{side}__cast__alloy"), F(f"{side}__piece__cast__alloy")
        ),
        f"{side}_owner": Coalesce(
            F(f"{side}__lot__owner"), F(f"{side}__cast__owner"), F(f"{side}__piece__cast__owner")
        ),
        f"{side}_is_new": Case(
            When(**{f"{side}__piece__cast__closed_on__gte": first}, then=Value(True)),
            default=Value(False),
            output_field=BooleanField(),
        ),
    }


def _sums(name: str, when: Q) -> dict[str, Sum]:
    return {
        f"{name}_{measure}": Sum(Case(When(when, then=F(measure)), default=0, output_field=BigIntegerField()))
        for measure in _MEASURES
    }


def _read_flow(row: dict[str, Any]) -> Flow:
    return Flow(
        source=_read_end(row, "source"),
        target=_read_end(row, "target"),
        entry_kind=row["entry__kind"],
        before=Amount(*(int(row[f"before_{measure}"]) for measure in _MEASURES)),
        during=Amount(*(int(row[f"during_{measure}"]) for measure in _MEASURES)),
    )


def _read_end(row: dict[str, Any], side: str) -> End:
    alloy = row[f"{side}_alloy"]
    return End(
        kind=row[f"{side}__kind"],
        place=row[f"{side}__place"],
        key=(alloy, row[f"{side}_owner"]) if alloy is not None else None,
        is_new=row[f"{side}_is_new"],
    )
