"""Each cast's loss, who weighed it out, and how often the scale was read for what was lost."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Count, Q

from inventory.core.casting import Grams
from inventory.models import Alloy, Cast, Entry, Holder, Movement, Piece
from inventory.queries.cast_metal import CHARGE, LOST, PIECES, WEIGHED_OUT, metal_of_casts
from inventory.queries.casting_page import count_weighings
from inventory.queries.ledger import STANDING, stands


@dataclass(frozen=True)
class CastLoss:
    """A closed cast with its grams as they stand; `weighings` are those of its charge and its closing.

    `person` is who wrote down its weights, "" where nobody is known.
    """

    cast: Cast
    grams: Grams
    spilt_mg: int
    first_lost_mg: int
    lost_micro: int
    charge_micro: int
    pieces_micro: int
    weighings: int
    person: str

    @property
    def dust_mg(self) -> int:
        """Filings without the spill."""
        return self.grams.filings_mg - self.spilt_mg


def cast_losses(first: date, last: date, alloy: Alloy | None = None) -> list[CastLoss]:
    """The casts closed in a time, newest first."""
    casts = Cast.objects.filter(WEIGHED_OUT, closed_on__gte=first, closed_on__lte=last)
    # Few alloys and crucibles stand behind many casts: read once each, and not made anew for every row.
    casts = casts.prefetch_related("alloy", "owner", "crucible")
    if alloy is not None:
        casts = casts.filter(alloy=alloy)
    moved = metal_of_casts(Q(entry__cast__closed_on__range=(first, last)))
    readings, people = _gather_readings(first, last), _gather_people(first, last)
    losses = []
    for cast in casts.order_by("-day", "-number"):
        metal, grams = moved[cast.pk], moved[cast.pk].grams
        # The chart reads them from the cast.
        shown: Any = cast
        shown.charge_mg, shown.lost_mg = grams.charge_mg, grams.lost_mg
        losses.append(
            CastLoss(
                cast=cast,
                grams=grams,
                spilt_mg=metal.spilt_mg,
                first_lost_mg=metal.grams_at_close.lost_mg,
                lost_micro=metal.now[LOST].cost_micro,
                charge_micro=metal.now[CHARGE].cost_micro,
                pieces_micro=metal.now[PIECES].cost_micro,
                weighings=metal.weighings + readings.get(cast.pk, 0),
                person=people.get(cast.pk, ""),
            )
        )
    return losses


def _gather_people(first: date, last: date) -> dict[int, str]:
    """Who wrote down the weights of each cast."""
    rows = Entry.objects.filter(stands(), kind=Entry.Kind.CLOSE, cast__closed_on__range=(first, last))
    return dict(rows.exclude(recorded_by=None).order_by("pk").values_list("cast", "recorded_by__username"))


def finishing_readings(first: date, last: date) -> dict[int, int]:
    """How often the scale was read for what finishing took off the studio's own pieces, by alloy.

    Each piece before and after, and the filings of each entry once. One query.
    """
    lines = Movement.objects.filter(STANDING, entry__kind=Entry.Kind.FINISH, entry__day__range=(first, last))
    rows = (
        lines.filter(source__kind=Holder.Kind.PIECE, source__piece__cast__owner=None)
        .order_by()
        .values_list("source__piece__cast__alloy")
        .annotate(
            pieces=Count("source", distinct=True),
            entries=Count("entry", distinct=True, filter=Q(what=Movement.What.FILINGS)),
        )
    )
    return {alloy: 2 * pieces + entries for alloy, pieces, entries in rows}


def _gather_readings(first: date, last: date) -> dict[int, int]:
    """How often the scale was read for the pieces of each cast."""
    weighed_with: dict[int, list[int]] = defaultdict(list)
    pieces = Piece.objects.filter(void=False, cast__closed_on__gte=first, cast__closed_on__lte=last)
    for cast, count in pieces.order_by("cast_id", "number").values_list("cast_id", "weighed_with"):
        weighed_with[cast].append(count)
    return {cast: count_weighings(counts) for cast, counts in weighed_with.items()}
