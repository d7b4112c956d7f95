"""What a plan said already, as the lines of its cast's steps: nothing is asked twice."""

from typing import Any

from django.utils import timezone

from inventory.core.picking import is_usable
from inventory.models import Material, Plan, PlanPortion
from inventory.queries.plans import portions_for
from studio.kit.picks import Options

Lines = list[dict[str, Any]]


def planned_tree(plan: Plan, options: Options) -> Lines:
    """The pattern material of the plan: from the lots it holds, or of no lot where these do not suffice."""
    lines = _from_lots(plan, PlanPortion.Use.PATTERN, options, "what", "quantity")
    taken = {one.lot.material_id for one in portions_for(plan, PlanPortion.Use.PATTERN)}
    masses: dict[Material, int] = {}
    for part in plan.parts.all():
        if part.material_id not in taken:
            masses[part.material] = masses.get(part.material, 0) + part.mass_mg
    lines += [
        {"what": f"material-{material.pk}", "quantity": mass_mg} for material, mass_mg in masses.items()
    ]
    return lines


def planned_powder(plan: Plan, options: Options) -> Lines:
    """Of a lot that went damp or stale since it was planned only the mass stays."""
    lines, today = _from_lots(plan, PlanPortion.Use.POWDER, options, "lot", "mass"), timezone.localdate()
    for line in lines:
        lot = options.records.get(str(line["lot"]))
        if lot is not None and not is_usable(lot, today):
            line["lot"] = None
    return lines


def planned_charge(plan: Plan, options: Options) -> Lines:
    """Of what lay in a tin the lot that the tin holds now."""
    lines = _from_lots(plan, PlanPortion.Use.METAL, options, "what", "mass")
    in_tins = {choice.lots[0].tin_id: key for key, choice in options.records.items() if not choice.is_tin}
    for line, one in zip(lines, portions_for(plan, PlanPortion.Use.METAL), strict=True):
        if one.lot.tin_id is not None:
            line["what"] = line["what"] or in_tins.get(one.lot.tin_id)
    return lines


def planned_pieces(plan: Plan) -> Lines:
    """What was on the tree, to be weighed as castings."""
    return [{"name": part.label, "count": part.count} for part in plan.parts.all() if part.is_piece]


def _from_lots(plan: Plan, use: str, options: Options, pick: str, mass: str) -> Lines:
    """A line for each lot that can still be chosen; of one that is used up only the mass stays."""
    return [
        {pick: key if (key := f"lot-{one.lot_id}") in options.records else None, mass: one.quantity}
        for one in portions_for(plan, use)
    ]
