"""The loss of each cast: as it was first reported and as it stands today, in a fixed handful of queries."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from inventory.models import Alloy, Cast, Piece
from inventory.queries.cast_metal import LOST, CastMetal, metal_of_casts
from inventory.queries.casting_page import count_weighings


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
    moved = metal_of_casts(Q(entry__cast__closed_on__range=(first, last)))
    readings = _gather_readings(first, last)
    return [
        _read_loss(cast, moved[cast.pk], readings.get(cast.pk, 0))
        for cast in casts.order_by("-day", "-number")
    ]


def _gather_readings(first: date, last: date) -> dict[int, int]:
    """How often the scale was read for the pieces of each cast."""
    weighed_with: dict[int, list[int]] = defaultdict(list)
    pieces = Piece.objects.filter(void=False, cast__closed_on__gte=first, cast__closed_on__lte=last)
    for cast, count in pieces.order_by("cast_id", "number").values_list("cast_id", "weighed_with"):
        weighed_with[cast].append(count)
    return {cast: count_weighings(counts) for cast, counts in weighed_with.items()}


def _read_loss(cast: Cast, metal: CastMetal, readings: int) -> CastLoss:
    grams = metal.grams
    return CastLoss(
        cast=cast,
        charge_mg=grams.charge_mg,
        pieces_mg=grams.pieces_mg,
        back_mg=grams.back_mg,
        filings_mg=grams.filings_mg,
        lost_mg=grams.lost_mg,
        first_lost_mg=metal.grams_at_close.lost_mg,
        lost_micro=metal.now[LOST].cost_micro,
        weighings=metal.weighings + readings,
    )
