"""What is going to be taken on a day: open plans, and what other apps know of, such as quotes."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch, Q
from django.utils import timezone

from inventory.core.coming import Dated
from inventory.models import Entry, Material, Plan, PlanPart, PlanPortion

from .ledger import stands
from .shelf import ENTRY_OF_USE, lots_here

MOST_PLANS = 100


@dataclass(frozen=True)
class Wanted:
    """So much of a material, or of the metal that an alloy is bought as, or so many flasks' powder, by a day."""

    day: date
    what: str
    quantity: int
    material: int | None = None
    alloy: int | None = None
    is_flasks: bool = False


#: Other apps put here what they know of; each is asked with today.
MORE_WANTED: list[Callable[[date], Iterable[Wanted]]] = []


def register_wanted(ask: Callable[[date], Iterable[Wanted]]) -> Callable[[date], Iterable[Wanted]]:
    """Count what another app knows to be wanted."""
    MORE_WANTED.append(ask)
    return ask


def all_wanted(today: date) -> list[Wanted]:
    """What plans take that was not taken yet, and what other apps know of; four queries and theirs."""
    return [*_wanted_by_plans(), *(one for ask in MORE_WANTED for one in ask(today))]


def takes_of(
    wanted: Iterable[Wanted], metal: Mapping[int, int], powder: int | None, per_flask: int
) -> dict[int, list[Dated]]:
    """By material: `metal` is the material that each alloy is bought as, `powder` that of a flask that names none."""
    sums: dict[tuple[int, date, str], int] = {}
    for one in wanted:
        material, quantity = one.material, one.quantity
        if one.alloy is not None:
            material = metal.get(one.alloy)
        elif one.is_flasks:
            material, quantity = powder, quantity * per_flask
        if material is not None and quantity > 0:
            key = material, one.day, one.what
            sums[key] = sums.get(key, 0) + quantity
    found: dict[int, list[Dated]] = {}
    for (material, day, what), quantity in sums.items():
        found.setdefault(material, []).append(Dated(day, quantity, what))
    return found


def _wanted_by_plans() -> list[Wanted]:
    portions = PlanPortion.objects.filter(use=PlanPortion.Use.METAL).select_related(
        "lot__holder", "lot__material"
    )
    plans = list(
        Plan.objects.filter(Q(cast__isnull=True) | Q(cast__closed_on__isnull=True), dropped=False)
        .select_related("day")
        .prefetch_related(
            Prefetch("portions", portions), Prefetch("parts", PlanPart.objects.order_by("place"))
        )
        .order_by("day__wish_at", "pk")[:MOST_PLANS]
    )
    casts = [plan.cast_id for plan in plans if plan.cast_id]
    done = set(
        Entry.objects.filter(stands(), cast__in=casts, kind__in=ENTRY_OF_USE.values()).values_list(
            "cast", "kind"
        )
    )
    tins = {portion.lot.tin_id for plan in plans for portion in plan.portions.all()} - {None}
    in_tin = dict(lots_here(tin__in=tins).values_list("tin", "holder__quantity"))
    found: list[Wanted] = []
    for plan in plans:
        for use, wanted in _uses(plan, in_tin):
            if plan.cast_id is None or (plan.cast_id, ENTRY_OF_USE[use]) not in done:
                found.append(wanted)
    return found


def _uses(plan: Plan, in_tin: Mapping[int, int]) -> Iterable[tuple[PlanPortion.Use, Wanted]]:
    """What a plan takes, by what it is for."""
    day, what = timezone.localdate(plan.day.wish_at), f"the plan {plan.title}"
    yield PlanPortion.Use.POWDER, Wanted(day, what, plan.powder_mg, plan.powder_id)
    for part in plan.parts.all():
        yield PlanPortion.Use.PATTERN, Wanted(day, what, part.mass_mg, part.material_id)
    if plan.owner_id is not None:
        return
    missing = plan.metal_mg
    for portion in plan.portions.all():
        lot = portion.lot
        if lot.is_fresh:
            missing -= portion.quantity
            yield PlanPortion.Use.METAL, Wanted(day, what, portion.quantity, lot.material_id)
        else:
            # What was meant to go back into the pot may be gone by now, or lie in its tin as another lot.
            missing -= min(portion.quantity, lot.holder.quantity or in_tin.get(lot.tin_id or 0, 0))
    yield PlanPortion.Use.METAL, Wanted(day, what, missing, alloy=plan.alloy_id)


def metal_of_alloys(materials: Iterable[Material], came: Mapping[int, date | None]) -> dict[int, int]:
    """The material that each alloy is bought as: of several that which came last."""
    bought = [
        one for one in materials if one.alloy_id and one.form in (Material.Form.GRAIN, Material.Form.SHEET)
    ]
    bought.sort(key=lambda one: (came.get(one.pk) or date.min, one.pk))
    return {one.alloy_id: one.pk for one in bought if one.alloy_id}
