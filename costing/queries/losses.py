"""The loss of each cast: as it was first reported and as it stands today, in a fixed handful of queries."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import BigIntegerField, Case, Count, F, Q, Sum, When

from inventory.models import Alloy, Cast, Entry, Movement, Piece
from inventory.queries.casting import BACK, CHARGED, FILINGS, FROM_LOST, TO_LOST
from inventory.queries.casting_page import count_weighings
from inventory.queries.ledger import STANDING

What = Movement.What
_SORTS = (What.BACK, What.FAILED, What.SPILL, What.FILINGS)
_AT_CLOSE = Q(entry__kind=Entry.Kind.CLOSE)


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
    casts = Cast.objects.filter(closed_on__gte=first, closed_on__lte=last).select_related("alloy", "owner")
    if alloy is not None:
        casts = casts.filter(alloy=alloy)
    figures, readings = _gather_figures(first, last), _gather_readings(first, last)
    return [
        _read_loss(cast, figures[cast.pk], readings.get(cast.pk, 0))
        for cast in casts.order_by("-day", "-number")
    ]


def _gather_figures(first: date, last: date) -> dict[int, Any]:
    """One query over all movements of those casts; asked cast by cast it would be many."""
    rows = (
        Movement.objects.filter(STANDING, entry__cast__closed_on__gte=first, entry__cast__closed_on__lte=last)
        .order_by()
        .values("entry__cast")
        .annotate(
            charge=_sum(CHARGED),
            back=_sum(BACK),
            filings=_sum(FILINGS),
            lost_in=_sum(TO_LOST),
            lost_out=_sum(FROM_LOST),
            first_in=_sum(_AT_CLOSE & TO_LOST),
            first_out=_sum(_AT_CLOSE & FROM_LOST),
            cost_in=_sum(TO_LOST, "cost_micro"),
            cost_out=_sum(FROM_LOST, "cost_micro"),
            portions=Count("pk", filter=CHARGED),
            sorts=Count("pk", filter=_AT_CLOSE & Q(what__in=_SORTS)),
        )
    )
    return {row["entry__cast"]: row for row in rows}


def _sum(which: Q, measure: str = "quantity") -> Sum:
    return Sum(Case(When(which, then=F(measure)), default=0, output_field=BigIntegerField()))


def _gather_readings(first: date, last: date) -> dict[int, int]:
    """How often the scale was read for the pieces of each cast."""
    weighed_with: dict[int, list[int]] = defaultdict(list)
    pieces = Piece.objects.filter(void=False, cast__closed_on__gte=first, cast__closed_on__lte=last)
    for cast, count in pieces.order_by("cast_id", "number").values_list("cast_id", "weighed_with"):
        weighed_with[cast].append(count)
    return {cast: count_weighings(counts) for cast, counts in weighed_with.items()}


def _read_loss(cast: Cast, figures: dict[str, Any], readings: int) -> CastLoss:
    charge_mg, back_mg, filings_mg = (int(figures[name]) for name in ("charge", "back", "filings"))
    lost_mg = int(figures["lost_in"] - figures["lost_out"])
    return CastLoss(
        cast=cast,
        charge_mg=charge_mg,
        pieces_mg=charge_mg - back_mg - filings_mg - lost_mg,
        back_mg=back_mg,
        filings_mg=filings_mg,
        lost_mg=lost_mg,
        first_lost_mg=int(figures["first_in"] - figures["first_out"]),
        lost_micro=int(figures["cost_in"] - figures["cost_out"]),
        weighings=figures["portions"] + figures["sorts"] + readings,
    )
