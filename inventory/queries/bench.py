"""Reads for the first page: what needs doing, and how things stand."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, F, QuerySet

from inventory.core.control_chart import FamilyLimits, Signal
from inventory.models import Alloy, Cast, Equipment, Holder, Lot, Material, Piece, Plan
from studio.kit.chart_pen import Picture

from .casting import last_closed_casts
from .control import chart_families, family_limits, loss_share, read_circumstances
from .shelf import lots_here, usable_on

SHOWN_CASTS = 12
LIMIT_CASTS = 36


#: What waits in words, as (count, one, several, name of the list's address); other apps put theirs here.
Waiting = tuple[int, str, str, str]
MORE_WAITING: list[Callable[[date], Waiting]] = []


def register_waiting(count: Callable[[date], Waiting]) -> Callable[[date], Waiting]:
    """Tell on the first page of what waits elsewhere; it is asked with today."""
    MORE_WAITING.append(count)
    return count


@dataclass(frozen=True)
class OddCast:
    """A cast whose loss is out of the ordinary, in what way, and what stands in its record."""

    cast: Cast
    signal: Signal
    record: Sequence[str]


@dataclass(frozen=True)
class LossOutlook:
    """The loss of the last casts of the family cast last, and which of the last casts of all were odd, and why."""

    picture: Picture | None
    family: FamilyLimits
    odd: tuple[OddCast, ...]


def loss_outlook() -> LossOutlook:
    """Of the latest closed casts; four queries. Run rules look at more of them than are shown."""
    casts = [cast for cast in last_closed_casts(LIMIT_CASTS) if loss_share(cast) is not None]
    if not casts:
        return LossOutlook(None, FamilyLimits(), ())
    charts = chart_families(casts, family_limits())
    recent = {*casts[-SHOWN_CASTS:], *charts[0].casts[-SHOWN_CASTS:]}
    found = [pair for chart in charts for pair in chart.signals if pair[0] in recent]
    found.sort(key=lambda pair: (pair[0].day, pair[0].number))
    records = read_circumstances([cast for cast, _ in found], casts)
    odd = tuple(OddCast(cast, signal, records.get(cast.pk, ())) for cast, signal in found)
    last = charts[0]
    count = min(len(last.casts), SHOWN_CASTS)
    title = f"Loss, last {count} casts of {last.words}" if count > 1 else "Loss of the only cast so far"
    return LossOutlook(last.picture(title, SHOWN_CASTS), last.family, odd)


def count_waiting() -> dict[str, int]:
    """How many casts are under way, plans open, pieces as cast and pieces finished and here, by name. Three queries."""
    # A piece that is here still holds its metal: it is found among what is here, not among all that ever were.
    here = Piece.objects.filter(void=False, holder__kind=Holder.Kind.PIECE, holder__quantity__gt=0)
    states = dict(here.order_by().values_list("state").annotate(count=Count("pk")))
    return {
        "casts": Cast.objects.filter(closed_on__isnull=True).count(),
        "plans": Plan.objects.filter(cast__isnull=True, dropped=False).count(),
        "unfinished": states.get(Piece.State.CAST, 0),
        "finished": states.get(Piece.State.FINISHED, 0),
    }


def unusable_lots(today: date, most: int = 8) -> QuerySet[Lot]:
    """Lots that hold something and are damp or past their last day, the longest past first."""
    return (
        lots_here()
        .filter(~usable_on(today))
        .select_related("material", "holder")
        .order_by(F("use_by").asc(nulls_last=True), "pk")[:most]
    )


def opened_tubs() -> QuerySet[Lot]:
    """Opened lots of dry powder that hold something, first to go out of date at the top."""
    return (
        lots_here(material__kind=Material.Kind.POWDER, opened_on__isnull=False, damp_on=None)
        .select_related("material", "holder")
        .order_by(F("use_by").asc(nulls_last=True), "opened_on")[:8]
    )


@dataclass(frozen=True)
class Beginnings:
    """What a new studio has already, so that the first page can say what to do next."""

    alloys: bool
    metal: bool
    other_stock: bool
    equipment: bool
    casts: bool


def read_beginnings() -> Beginnings:
    """Asked only while there is no cast."""
    lots = Lot.objects.filter(void=False)
    return Beginnings(
        alloys=Alloy.objects.exists(),
        metal=lots.filter(material__kind=Material.Kind.METAL).exists(),
        other_stock=lots.exclude(material__kind=Material.Kind.METAL).exists(),
        equipment=Equipment.objects.exists(),
        casts=False,
    )
