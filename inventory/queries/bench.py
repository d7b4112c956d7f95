"""Reads for the first page: what needs doing, and how things stand."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Count, F, QuerySet

from inventory.core.weighing import ControlLimits, compute_share_pct100, compute_usual_loss
from inventory.models import Alloy, Cast, Equipment, Holder, Lot, Material, Piece, Plan
from studio.kit.chart_loss import LossPoint, loss_chart
from studio.kit.chart_pen import Picture

from .casting import last_closed_casts
from .shelf import lots_here, usable_on

SHOWN_CASTS = 12
LIMIT_CASTS = 36


@dataclass(frozen=True)
class LossOutlook:
    """The loss of the last casts, and which lost more than is usual; no limits while there are few casts."""

    picture: Picture | None
    limits: ControlLimits | None
    unusual: tuple[Cast, ...]


def loss_outlook() -> LossOutlook:
    """One query: the latest closed casts; the limits come from more of them than are shown."""
    casts = last_closed_casts(LIMIT_CASTS)
    shares = [(cast, share) for cast in casts if (share := _loss_share(cast)) is not None]
    if not shares:
        return LossOutlook(None, None, ())
    limits = compute_usual_loss([share for _, share in shares])
    shown = shares[-SHOWN_CASTS:]
    upper = limits.upper_pct100 if limits else None
    points = [LossPoint(f"Cast {cast.number}", share, _note(cast)) for cast, share in shown]
    title = f"Loss, last {len(shown)} casts" if len(shown) > 1 else "Loss of the only cast so far"
    picture = loss_chart(points, limits.mean_pct100 if limits else None, upper, title=title)
    unusual = tuple(cast for cast, share in shown if upper is not None and share > upper)
    return LossOutlook(picture, limits, unusual)


def usual_loss(but: Cast | None = None) -> ControlLimits | None:
    """What casts usually lose at most: what the first page, the reports and every form judge by.

    Without one cast where it is not weighed out for good; None while there are few.
    """
    casts = [cast for cast in last_closed_casts(LIMIT_CASTS + 1) if cast != but][-LIMIT_CASTS:]
    return compute_usual_loss([share for cast in casts if (share := _loss_share(cast)) is not None])


def _loss_share(cast: Cast) -> int | None:
    return compute_share_pct100(cast.lost_mg, cast.charge_mg)  # type: ignore[attr-defined]  # annotated by the query


def _note(cast: Cast) -> str:
    return "failed" if cast.outcome == Cast.Outcome.FAILED else ""


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
        lots_here(material__kind=Material.Kind.POWDER, opened_on__isnull=False, is_damp=False)
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
