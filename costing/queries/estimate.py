"""What plans will cost, by the rules of their day, with the sums that cost a closed cast.

The number of queries does not depend on how many plans are asked for.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from costing.core import estimate
from costing.models import Policy
from inventory.models import Plan, PlanPart, PlanPortion
from inventory.queries.firing import ExpectedFiring
from inventory.queries.plans import portions_for
from studio.kit.working import Working

from .costed import CostSheet
from .policy import all_policies, policy_on
from .wear import PlannedUses, day_of

Use = PlanPortion.Use


@dataclass(frozen=True, kw_only=True)
class PlanEstimate(CostSheet):
    """A plan with what it will cost: `pieces` of the inputs stand in the order of the cost's piece columns.

    `notes` say what is not known or not here, so that nobody takes the figure for more than it is.
    """

    plan: Plan
    firing: ExpectedFiring
    bench: estimate.BenchMeans
    fresh_mg: int
    notes: tuple[str, ...]

    @property
    def pieces_mg(self) -> int:
        return sum(piece.mass_mg for piece in self.inputs.pieces)

    @property
    def charge_mg(self) -> int:
        """What lots are planned for the charge."""
        return sum(one.quantity for one in portions_for(self.plan, Use.METAL))

    @property
    def workings(self) -> tuple[Working, ...]:
        more = (estimate.work_planned_metal(self.inputs), *self.use.workings)
        bench = (self.bench.working,) if self.bench.working else ()
        return (*(line.working for line in self.lines), *more, *bench)


def estimate_plans(plan_ids: Iterable[int]) -> dict[int, PlanEstimate]:
    """The estimate of each of these plans, by plan id, in the order of their days."""
    plans = list(
        Plan.objects.filter(pk__in=list(plan_ids))
        .select_related(
            "day__kiln",
            "day__schedule",
            "alloy",
            "owner",
            "flask",
            "crucible",
            "machine",
            "pump",
            "powder",
            "cast__firing__kiln",
        )
        .prefetch_related("parts__material", "portions__lot__material", "day__schedule__steps")
        .order_by("day__wish_at", "pk")
    )
    uses, policies = PlannedUses(plans), all_policies()
    return {plan.pk: _estimate(plan, uses, policy_on(day_of(plan), policies)) for plan in plans}


def _estimate(plan: Plan, uses: PlannedUses, policy: Policy) -> PlanEstimate:
    firing, bench = uses.firing_of(plan), uses.bench_of(plan)
    use = uses.use_of(plan, firing, policy)
    metal, short = estimate.share_charge(_planned_metal(plan, bench))
    powder_micro, no_powder = estimate.fill_up(
        _planned_use(plan.powder, plan.powder_mg, portions_for(plan, Use.POWDER))
    )
    pattern_micro, no_pattern = _cost_patterns(plan)
    inputs = replace(
        metal,
        powder_micro=powder_micro,
        pattern_micro=pattern_micro,
        energy_micro=use.energy_micro,
        wear=use.wear,
        bench_minutes=bench.cast_minutes,
        customer_metal=plan.owner_id is not None,
    )
    fresh_mg = sum(one.quantity for one in portions_for(plan, Use.METAL) if one.lot.is_fresh)
    said = (*_say_parts(plan), short, no_powder, *no_pattern, firing.energy.problem, bench.note)
    return PlanEstimate(
        plan=plan,
        policy=policy,
        inputs=inputs,
        use=use,
        firing=firing,
        bench=bench,
        fresh_mg=fresh_mg,
        notes=tuple(note for note in said if note),
    )


def _planned_metal(plan: Plan, bench: estimate.BenchMeans) -> estimate.PlannedMetal:
    parts = [
        estimate.PlannedPart(part.label, part.mass_mg, part.count, part.material.density_mg_cm3 or 0)
        for part in plan.parts.all()
        if part.is_piece
    ]
    charge = _planned_use(plan.alloy, plan.metal_mg, portions_for(plan, Use.METAL))
    return estimate.PlannedMetal(
        charge_mg=charge.planned,
        charge_micro=charge.cost_micro,
        loss_mg=plan.expected_loss_mg,
        pieces=estimate.compute_planned_pieces(parts, plan.alloy.density_mg_cm3, bench.piece_minutes),
        name=charge.name,
    )


def _planned_use(what: object, needed: int, lots: Sequence[PlanPortion]) -> estimate.PlannedUse:
    return estimate.PlannedUse(
        str(what), needed, sum(one.quantity for one in lots), sum(one.cost_micro for one in lots)
    )


def _cost_patterns(plan: Plan) -> tuple[int, list[str]]:
    """The cost of each pattern material on the tree, and what is missing of it."""
    masses: dict[int, list[PlanPart]] = {}
    for part in plan.parts.all():
        masses.setdefault(part.material_id, []).append(part)
    total_micro, notes = 0, []
    for material, parts in masses.items():
        lots = [one for one in portions_for(plan, Use.PATTERN) if one.lot.material_id == material]
        needed_mg = sum(part.mass_mg for part in parts)
        cost_micro, note = estimate.fill_up(_planned_use(parts[0].material, needed_mg, lots))
        total_micro += cost_micro
        notes.append(note)
    return total_micro, notes


def _say_parts(plan: Plan) -> list[str]:
    """What cannot be told of the pieces."""
    pieces = [part for part in plan.parts.all() if part.is_piece]
    if not pieces:
        return ["No part of the tree becomes a piece, so nothing carries the cost."]
    return [
        f"The density of {part.material} is not written down, so the metal of {part.label} is not known."
        for part in pieces
        if not part.material.density_mg_cm3
    ]
