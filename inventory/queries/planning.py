"""Reads for planning a cast: the studio's practice, what is promised, what is on the shelf for it, past losses."""

from collections.abc import Iterable, Sequence
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet, Sum

from inventory.core.charge_shelf import ShelfLot
from inventory.core.investing import WorkingSplit, allocate_working_time
from inventory.core.ledger import Amount
from inventory.core.picking import LotOnHand
from inventory.core.tree import PastLoss
from inventory.models import (
    Alloy,
    Cast,
    Customer,
    DayPractice,
    Entry,
    Equipment,
    Lot,
    Material,
    Plan,
    PlanPortion,
    Schedule,
)
from studio.kit.units import SECONDS_PER_MINUTE

from .casting import casts_with_grams
from .keeping import lots_here
from .ledger import name_lot, stands

PAST_CASTS = 12
MOST_LOTS = 400
_ENTRY_OF_USE = {
    PlanPortion.Use.METAL: Entry.Kind.CHARGE,
    PlanPortion.Use.POWDER: Entry.Kind.POWDER,
    PlanPortion.Use.PATTERN: Entry.Kind.TREE,
}


def current_practice() -> DayPractice:
    """The studio's practice, or the defaults while it has said nothing (not saved)."""
    return DayPractice.objects.first() or DayPractice(pk=1)


def split_for(practice: DayPractice, powder: Material | None = None) -> WorkingSplit:
    """The studio's own split of the working time; a quicker powder gets the same work in what its sheet gives."""
    split = WorkingSplit(practice.mix_s, practice.vacuum_bowl_s, practice.fill_s, practice.vacuum_flask_s)
    minutes = powder.working_minutes if powder else None
    if minutes and 0 < minutes * SECONDS_PER_MINUTE < split.total_s:
        split, _ = allocate_working_time(minutes * SECONDS_PER_MINUTE, split)
    return split


def promised(but: Plan | None = None) -> dict[int, int]:
    """What plans hold of each lot, in its small unit, by lot id; `but` is the plan that asks.

    A hold ends when the cast has used its part, is closed, or was let go by hand.
    """
    portions = PlanPortion.objects.filter(
        plan__holds=True, plan__dropped=False, plan__cast__closed_on__isnull=True
    )
    for use, kind in _ENTRY_OF_USE.items():
        entries = Entry.objects.filter(stands(), cast=OuterRef("plan__cast"), kind=kind)
        portions = portions.exclude(Q(Exists(entries), use=use))
    if but is not None and but.pk:
        portions = portions.exclude(plan=but)
    return dict(portions.order_by().values_list("lot").annotate(held=Sum("quantity")))


def shelf_for(alloy: Alloy, owner: Customer | None, taken: dict[int, int]) -> list[ShelfLot]:
    """The metal that a charge of an alloy may be made of; `taken` is what other plans hold.

    Lots of the alloy itself; metals of one element that it is made of, to alloy with; and where there is none of
    the alloy, others made of nothing else than its own elements. In a customer's cast only theirs.
    """
    parts = {
        one.pk: frozenset(part.element for part in one.parts.all())
        for one in Alloy.objects.prefetch_related("parts")
    }
    rows = list(_metal_rows(owner))
    own = [lot for lot in rows if lot.material.alloy_id == alloy.pk]
    wanted = parts.get(alloy.pk, frozenset())
    kin = [lot for lot in rows if lot.material.alloy_id != alloy.pk and _is_kin(lot, alloy, wanted, parts)]
    if own:
        kin = [lot for lot in kin if len(parts[lot.material.alloy_id or 0]) == 1]
    return [_as_shelf_lot(lot, alloy, taken) for lot in (*own, *kin)]


def _metal_rows(owner: Customer | None) -> "QuerySet[Lot]":
    clean = (*Lot.FRESH, *Lot.CLEAN_RECLAIM)
    return lots_here(material__kind=Material.Kind.METAL, origin__in=clean, owner=owner).select_related(
        "holder", "material__alloy", "from_cast"
    )[:MOST_LOTS]


def _is_kin(lot: Lot, alloy: Alloy, wanted: frozenset[str], parts: dict[int, frozenset[str]]) -> bool:
    """Whether a lot of another alloy may be alloyed in: only metals that the alloy is made of anyway.

    Nothing is alloyed into an alloy without a mark, because no fineness would tell whether it came out right.
    """
    other = lot.material.alloy
    if other is None or not alloy.fineness or not wanted:
        return False
    of = parts.get(other.pk, frozenset())
    return bool(of) and of <= wanted and other.metal in (alloy.metal, Alloy.Metal.BASE)


def portions_for(plan: Plan, use: str) -> list[PlanPortion]:
    """What a plan means to take for one use; of a plan that was read with its portions it asks no more."""
    return [portion for portion in plan.portions.all() if portion.use == use]


def _as_shelf_lot(lot: Lot, alloy: Alloy, taken: dict[int, int]) -> ShelfLot:
    holder = lot.holder
    is_same = lot.material.alloy_id == alloy.pk
    return ShelfLot(
        key=lot.pk,
        label=name_lot(lot),
        held=Amount(holder.quantity, holder.fine_ug, holder.cost_micro),
        free_mg=max(holder.quantity - taken.get(lot.pk, 0), 0),
        day=lot.received_on,
        melts_milli=lot.melts_milli,
        is_fresh=lot.is_fresh,
        is_alloying=not is_same and lot.is_fresh,
        owner=lot.owner_id,
    )


def past_loss(alloy: Alloy) -> PastLoss:
    """What the last casts of an alloy that came out charged and lost."""
    good = Cast.objects.filter(alloy=alloy, closed_on__isnull=False, outcome=Cast.Outcome.GOOD)
    latest: list[Any] = list(
        casts_with_grams().filter(
            pk__in=list(good.order_by("-number").values_list("pk", flat=True)[:PAST_CASTS])
        )
    )
    return PastLoss(len(latest), sum(cast.charge_mg for cast in latest), sum(cast.lost_mg for cast in latest))


def stock_lots(materials: Iterable[Material]) -> list[Lot]:
    """Lots of these materials that hold something, oldest first."""
    return list(
        lots_here(material__in=list(materials), owner=None).select_related("holder", "material")[:MOST_LOTS]
    )


def as_on_hand(lots: Sequence[Lot], taken: dict[int, int]) -> list[LotOnHand]:
    """The same for choosing among them, less what other plans hold."""
    return [
        LotOnHand(
            lot.pk,
            name_lot(lot),
            lot.received_on,
            max(lot.holder.quantity - taken.get(lot.pk, 0), 0),
            lot.use_by,
            lot.is_damp,
        )
        for lot in lots
    ]


def schedules() -> "QuerySet[Schedule]":
    """The studio's schedules in use, with their steps."""
    return (
        Schedule.objects.filter(archived=False).select_related("powder", "pattern").prefetch_related("steps")
    )


def choose_schedule(
    known: Sequence[Schedule], powder: Material, flask: Equipment, patterns: Iterable[Material] = ()
) -> Schedule | None:
    """The schedule for this powder, flask and tree: of those that say so, the one for the smallest flasks.

    One that does not say how wide a flask it is for is never chosen, and one for a pattern material only where
    that is on the tree.
    """
    materials = {None, *(material.pk for material in patterns)}

    def fits(schedule: Schedule) -> bool:
        is_wide_enough = 0 < (flask.diameter_um or 0) <= (schedule.largest_diameter_um or 0)
        return is_wide_enough and schedule.powder_id in (None, powder.pk) and schedule.pattern_id in materials

    return min(
        filter(fits, known),
        key=lambda one: (one.pattern_id is None, one.powder_id is None, one.largest_diameter_um, one.pk),
        default=None,
    )
