"""What a charge, a tree and a mould usually weigh here: the middle one of the last casts. Milligrams."""

from statistics import median_low
from typing import Any

from django.db.models import QuerySet, Sum

from inventory.models import Cast, Material, Movement, TreePart

from .cast_metal import CHARGE, INTO
from .casting_before import LAST_CASTS
from .ledger import STANDING

#: Of fewer nothing can be called usual.
LEAST_CASTS = 3


def usual_charge_mg(alloy: int, but: int | None = None) -> int | None:
    """What a charge of an alloy usually weighs, without one cast; None while there are few."""
    last = list(_last_casts(but).filter(alloy=alloy)[:LAST_CASTS])
    return _middle(Movement.objects.filter(STANDING, INTO[CHARGE], entry__cast__in=last), "entry__cast")


def usual_tree_mg(but: int | None = None) -> int | None:
    """What a tree usually weighs, without one cast; None while there are few."""
    last = list(_last_casts(but)[:LAST_CASTS])
    parts = TreePart.objects.filter(void=False, material__unit=Material.Unit.MASS, cast__in=last)
    return _middle(parts, "cast")


def _last_casts(but: int | None) -> "QuerySet[Cast, int]":
    casts = Cast.objects.all() if but is None else Cast.objects.exclude(pk=but)
    return casts.order_by("-number").values_list("pk", flat=True)


def _middle(rows: QuerySet[Any], cast: str) -> int | None:
    totals = [row["total"] for row in rows.order_by().values(cast).annotate(total=Sum("quantity"))]
    return median_low(totals) if len(totals) >= LEAST_CASTS else None
