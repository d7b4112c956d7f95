"""The loss of each cast: as it was first reported and as it stands today, in a fixed handful of queries."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import BigIntegerField, Case, Count, F, Q, Sum, When

from inventory.models import Alloy, Cast, Entry, Holder, Movement, Piece
from inventory.queries.casting import casts_with_grams
from inventory.queries.casting_page import count_weighings
from inventory.queries.ledger import STANDING

What = Movement.What
_SORTS = (What.BACK, What.FAILED, What.SPILL, What.FILINGS)
_AT_CLOSE = Q(entry__kind=Entry.Kind.CLOSE)
_TO_LOST = Q(target__place=Holder.Place.LOST)
_FROM_LOST = Q(source__place=Holder.Place.LOST)


@dataclass(frozen=True)
class CastLoss:
    """A closed cast with its grams as they stand; `weighings` are those of its charge and its closing."""

    cast: Cast
    charge_mg: int
    pieces_mg: int
    back_mg: int
    filings_mg: int
    lost_mg: int
    first_lost_mg: int
    lost_micro: int
    weighings: int


def cast_losses(first: date, last: date, alloy: Alloy | None = None) -> list[CastLoss]:
    """The casts closed in a time, newest first."""
    casts = casts_with_grams().filter(closed_on__gte=first, closed_on__lte=last)
    if alloy is not None:
        casts = casts.filter(alloy=alloy)
    figures, readings = _gather_figures(first, last), _gather_readings(first, last)
    return [
        _read_loss(cast, figures[cast.pk], readings.get(cast.pk, 0))
        for cast in casts.order_by("-day", "-number")
    ]


def _gather_figures(first: date, last: date) -> dict[int, Any]:
    rows = (
        Movement.objects.filter(STANDING, entry__cast__closed_on__gte=first, entry__cast__closed_on__lte=last)
        .order_by()
        .values("entry__cast")
        .annotate(
            first_in=_sum(_AT_CLOSE & _TO_LOST, "quantity"),
            first_out=_sum(_AT_CLOSE & _FROM_LOST, "quantity"),
            cost_in=_sum(_TO_LOST, "cost_micro"),
            cost_out=_sum(_FROM_LOST, "cost_micro"),
            portions=Count("pk", filter=Q(entry__kind=Entry.Kind.CHARGE, target__kind=Holder.Kind.CRUCIBLE)),
            sorts=Count("pk", filter=_AT_CLOSE & Q(what__in=_SORTS)),
        )
    )
    return {row["entry__cast"]: row for row in rows}


def _sum(which: Q, measure: str) -> Sum:
    return Sum(Case(When(which, then=F(measure)), default=0, output_field=BigIntegerField()))


def _gather_readings(first: date, last: date) -> dict[int, int]:
    """How often the scale was read for the pieces of each cast."""
    weighed_with: dict[int, list[int]] = defaultdict(list)
    pieces = Piece.objects.filter(void=False, cast__closed_on__gte=first, cast__closed_on__lte=last)
    for cast, count in pieces.order_by("cast_id", "number").values_list("cast_id", "weighed_with"):
        weighed_with[cast].append(count)
    return {cast: count_weighings(counts) for cast, counts in weighed_with.items()}


def _read_loss(cast: Any, figures: Any, readings: int) -> CastLoss:
    return CastLoss(
        cast=cast,
        charge_mg=cast.charge_mg,
        pieces_mg=cast.pieces_mg,
        back_mg=cast.back_mg,
        filings_mg=cast.filings_mg,
        lost_mg=cast.lost_mg,
        first_lost_mg=int(figures["first_in"] - figures["first_out"]),
        lost_micro=int(figures["cost_in"] - figures["cost_out"]),
        weighings=figures["portions"] + figures["sorts"] + readings,
    )
