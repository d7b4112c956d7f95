"""What several flasks to come need together, against what is here and not promised. A fixed handful of queries."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Count
from django.utils import timezone

from inventory.core.picking import Need, check_need, is_usable
from inventory.models import DayPractice, Lot, Material, Piece, Plan, PlanPart, Studio
from studio.kit.units import PCT100_WHOLE, divide_half_up

from .casting import past_loss
from .plan_figures import mix_for, pattern_masses, work_metal
from .plans import PlanDraft
from .shelf import promised, shelf_for, stock_lots

LATEST_PARTS = 200


@dataclass(frozen=True)
class Needs:
    """Metal first, then powder and pattern materials; masses are of each flask, in milligrams."""

    needs: tuple[Need, ...]
    metal_mg: tuple[int, ...]
    powder_mg: tuple[int, ...]


def work_needs(
    drafts: Sequence[PlanDraft], studio: Studio, practice: DayPractice, made: Sequence[Plan] = ()
) -> Needs:
    """All flasks are of one alloy and one owner, as those of an order are. Raises IndexError for no flask.

    `made` are the plans that these flasks became: what they hold is held for them, so it counts as free.
    """
    first, taken = drafts[0], promised(None, *made)
    past, today = past_loss(first.alloy), timezone.localdate(first.day.wish_at)
    metal = [work_metal(draft, practice, studio, past).charge_mg for draft in drafts]
    powder = [mix_for(draft, practice).powder_mg for draft in drafts]
    own = [lot for lot in shelf_for(first.alloy, first.owner, taken, studio) if lot.is_same]
    wanted: dict[Material, int] = {first.powder: sum(powder)}
    for draft in drafts:
        for material, mass_mg in pattern_masses(draft):
            wanted[material] = wanted.get(material, 0) + mass_mg
    lots = stock_lots(wanted)
    held_mg, free_mg = sum(lot.held.quantity for lot in own), sum(lot.usable_mg for lot in own)
    needs = [check_need(str(first.alloy), sum(metal), held_mg, free_mg)]
    needs += [_need(material, mass_mg, lots, taken, today) for material, mass_mg in wanted.items()]
    return Needs(tuple(needs), tuple(metal), tuple(powder))


def _need(
    material: Material, wanted_mg: int, lots: Sequence[Lot], taken: dict[int, int], today: date
) -> Need:
    of = [lot for lot in lots if lot.material_id == material.pk and is_usable(lot, today)]
    held = sum(lot.holder.quantity for lot in of)
    free = sum(max(lot.holder.quantity - taken.get(lot.pk, 0), 0) for lot in of)
    return check_need(str(material), wanted_mg, held, free)


def usual_sprues_pct100() -> int:
    """What sprues and stems of the latest planned trees weigh, of their patterns; 0 where none was planned."""
    masses = {True: 0, False: 0}
    for is_piece, mass_mg in PlanPart.objects.order_by("-pk").values_list("is_piece", "mass_mg")[
        :LATEST_PARTS
    ]:
        masses[is_piece] += mass_mg
    return divide_half_up(masses[False] * PCT100_WHOLE, masses[True]) if masses[True] else 0


def most_in_a_flask(designs: Sequence[int]) -> dict[int, int]:
    """The most castings of each design that came out of one flask, by design."""
    pieces = Piece.objects.filter(void=False, design__in=designs).order_by()
    rows = pieces.values_list("design", "cast").annotate(together=Count("pk"))
    most: dict[int, int] = {}
    for design, _, together in rows:
        most[design] = max(most.get(design, 0), together)
    return most
