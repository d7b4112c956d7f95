"""What is on the shelf: what holds something, what of it is usable, what plans hold, what a charge may be made of."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery

from inventory.core.charge_shelf import ShelfLot
from inventory.core.fineness import know
from inventory.core.ledger import Amount
from inventory.core.picking import LotOnHand
from inventory.models import Alloy, Customer, Entry, Lot, Material, Plan, PlanPortion, Studio

from .kept import kept
from .ledger import name_lot, stands
from .reclaim_kinds import meltable_origins

MOST_LOTS = 400
ENTRY_OF_USE = {
    PlanPortion.Use.METAL: Entry.Kind.CHARGE,
    PlanPortion.Use.POWDER: Entry.Kind.POWDER,
    PlanPortion.Use.PATTERN: Entry.Kind.TREE,
}
#: Lots that hold something.
ON_HAND = Q(void=False, holder__quantity__gt=0)


def lots_here(**which: object) -> QuerySet[Lot]:
    """The lots that hold something and fit, oldest first."""
    return Lot.objects.filter(ON_HAND, **which)


def usable_on(day: date, lot: str = "") -> Q:
    """Lots that `core.picking.is_usable` allows on a day; `lot` is the path to them, such as "lots__"."""
    in_date = Q(**{f"{lot}use_by__isnull": True}) | Q(**{f"{lot}use_by__gte": day})
    for fault in ("damp_on", "sets_wrong_on"):
        in_date &= Q(**{f"{lot}{fault}__isnull": True}) | Q(**{f"{lot}{fault}__gt": day})
    return in_date


def stock_lots(materials: Iterable[Material]) -> list[Lot]:
    """Lots of these materials that hold something, oldest first."""
    return list(
        lots_here(material__in=list(materials), owner=None).select_related("holder", "material")[:MOST_LOTS]
    )


def own_metal(alloy: Alloy, owner: Customer | None, studio: Studio) -> list[Lot]:
    """Lots of an alloy that may go in the pot as they lie there, of the studio or of a customer, oldest first."""
    lots = lots_here(material__alloy=alloy, origin__in=meltable_origins(studio), owner=owner)
    return list(lots.filter(material__kind=Material.Kind.METAL).select_related("holder")[:MOST_LOTS])


def promised(but: Plan | None = None, *others: Plan) -> dict[int, int]:
    """What plans hold of each lot, in its small unit, by lot id; `but` is the plan that asks, with others as its own.

    A hold ends when the cast has used its part, is closed, or was let go by hand.
    """
    own = {plan.pk for plan in (but, *others) if plan is not None}
    held: dict[int, int] = defaultdict(int)
    for lot, plan, quantity in _held_by_plans():
        if plan not in own:
            held[lot] += quantity
    if not held:
        return {}
    # What is in a tin becomes another lot each time something is put in: a promise follows the metal.
    in_tin = lots_here(tin=OuterRef("tin")).order_by("-pk").values("pk")[:1]
    moved_on = Lot.objects.filter(pk__in=list(held), holder__quantity=0, tin__isnull=False)
    for lot, now in moved_on.order_by().values_list("pk", Subquery(in_tin)):
        if now is not None:
            held[now] += held.pop(lot)
    return dict(held)


@kept
def _held_by_plans() -> "QuerySet[PlanPortion, Any]":
    portions = PlanPortion.objects.filter(
        plan__holds=True, plan__dropped=False, plan__cast__closed_on__isnull=True
    )
    for use, kind in ENTRY_OF_USE.items():
        entries = Entry.objects.filter(stands(), cast=OuterRef("plan__cast"), kind=kind)
        portions = portions.exclude(Q(Exists(entries), use=use))
    return portions.order_by().values_list("lot", "plan", "quantity")


def holding_plans(lot: Lot) -> list[Plan]:
    """The open plans that were made with some of a lot, or of what its tin held then, to tell whose page lets it go."""
    of_it = Q(portions__lot=lot)
    if lot.tin_id is not None:
        of_it |= Q(portions__lot__tin=lot.tin_id)
    plans = Plan.objects.filter(of_it, holds=True, dropped=False, cast__closed_on__isnull=True)
    return list(plans.order_by("pk").distinct())


def as_on_hand(lots: Sequence[Lot], taken: dict[int, int]) -> list[LotOnHand]:
    """The same for choosing among them, less what other plans hold."""
    return [
        LotOnHand(
            lot.pk,
            name_lot(lot),
            lot.received_on,
            max(lot.holder.quantity - taken.get(lot.pk, 0), 0),
            lot.use_by,
            lot.damp_on,
            lot.sets_wrong_on,
        )
        for lot in lots
    ]


def shelf_for(alloy: Alloy, owner: Customer | None, taken: dict[int, int], studio: Studio) -> list[ShelfLot]:
    """The metal that a charge of an alloy may be made of as it is; `taken` is what other plans hold.

    Lots of the alloy itself; metals of one element that it is made of, to alloy with; and where there is none of
    the alloy, others made of nothing else than its own elements. In a customer's cast only theirs.
    """
    return shelves_for([alloy], owner, taken, studio)[alloy.pk]


def shelves_for(
    alloys: Iterable[Alloy], owner: Customer | None, taken: dict[int, int], studio: Studio
) -> dict[int, list[ShelfLot]]:
    """The same for each of several alloys. Three queries."""
    parts = {
        one.pk: frozenset(part.element for part in one.parts.all())
        for one in Alloy.objects.prefetch_related("parts")
    }
    may_go_in = meltable_origins(studio)
    metal = lots_here(material__kind=Material.Kind.METAL, origin__in=may_go_in, owner=owner)
    rows = list(metal.select_related("holder", "material__alloy", "from_cast")[:MOST_LOTS])
    return {alloy.pk: _shelf_of(alloy, rows, parts, taken) for alloy in alloys}


def _shelf_of(
    alloy: Alloy, rows: Sequence[Lot], parts: dict[int, frozenset[str]], taken: dict[int, int]
) -> list[ShelfLot]:
    own = [lot for lot in rows if lot.material.alloy_id == alloy.pk]
    wanted = parts.get(alloy.pk, frozenset())
    kin = [lot for lot in rows if lot.material.alloy_id != alloy.pk and _is_kin(lot, alloy, wanted, parts)]
    if own:
        kin = [lot for lot in kin if len(parts[lot.material.alloy_id or 0]) == 1]
    return [_as_shelf_lot(lot, alloy, taken) for lot in (*own, *kin)]


def _is_kin(lot: Lot, alloy: Alloy, wanted: frozenset[str], parts: dict[int, frozenset[str]]) -> bool:
    """Whether a lot of another alloy may be alloyed in: only metals that the alloy is made of anyway.

    Nothing is alloyed into an alloy without a mark, because no fineness would tell whether it came out right.
    """
    other = lot.material.alloy
    if other is None or not alloy.fineness or not wanted:
        return False
    of = parts.get(other.pk, frozenset())
    return bool(of) and of <= wanted and other.metal in (alloy.metal, Alloy.Metal.BASE)


def _as_shelf_lot(lot: Lot, alloy: Alloy, taken: dict[int, int]) -> ShelfLot:
    holder = lot.holder
    is_same = lot.material.alloy_id == alloy.pk
    label, fine_ug = name_lot(lot), holder.fine_ug
    if lot.fineness_is_guess and lot.fine_low_ppm is not None:
        # A proposal holds its mark at the least that its metal may be.
        known = know(holder.quantity, fine_ug, True, lot.fine_low_ppm, lot.fine_high_ppm)
        label, fine_ug = f"{label}, at the least that it may be", known.least_ug
    return ShelfLot(
        key=lot.pk,
        label=label,
        held=Amount(holder.quantity, fine_ug, holder.cost_micro),
        is_guess=lot.fineness_is_guess,
        free_mg=max(holder.quantity - taken.get(lot.pk, 0), 0),
        day=lot.received_on,
        melts_milli=lot.melts_milli,
        is_fresh=lot.is_fresh,
        is_alloying=not is_same and lot.is_fresh,
        owner=lot.owner_id,
        is_same=is_same,
    )
