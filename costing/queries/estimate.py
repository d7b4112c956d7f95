"""What plans will cost, by the rules of their day, with the sums that cost a closed cast; and plan beside fact.

The number of queries does not depend on how many plans are asked for.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from django.db.models import Q
from django.utils import timezone

from costing.core import estimate
from costing.models import Policy
from inventory.core.credibility import Blend
from inventory.core.energy import Energy
from inventory.core.weighing import compute_share_pct100
from inventory.models import Cast, Design, Plan, PlanPart, PlanPortion
from inventory.queries.cast_metal import POWDER, CastMetal, metal_of_casts
from inventory.queries.designs import learn, read_record
from inventory.queries.equipment import TOOLS
from inventory.queries.firing import ExpectedFiring, KilnRecords
from inventory.queries.plans import portions_for
from studio.kit.units import SECONDS_PER_MINUTE
from studio.kit.working import Working

from .costed import CostedCast, CostSheet, cost_casts
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
    design_times: tuple[Working, ...] = ()

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
        return (*(line.working for line in self.lines), *more, *bench, *self.design_times)


def estimate_plans(plan_ids: Iterable[int]) -> dict[int, PlanEstimate]:
    """The estimate of each of these plans, by plan id, in the order of their days."""
    plans = list(
        Plan.objects.filter(pk__in=list(plan_ids))
        .select_related(
            *TOOLS, "day__kiln", "day__schedule", "alloy", "owner", "powder", "cast__firing__kiln"
        )
        .prefetch_related("parts__material", "portions__lot__material", "day__schedule__steps")
        .order_by("day__wish_at", "pk")
    )
    uses, policies = PlannedUses(plans), all_policies()
    times = _design_times(plans)
    return {plan.pk: _estimate(plan, uses, policy_on(day_of(plan), policies), times) for plan in plans}


def _design_times(plans: Sequence[Plan]) -> dict[int, Blend]:
    """What a piece of each part's design takes at the bench, by part, where that is known. No query without designs."""
    parts = [part for plan in plans for part in plan.parts.all() if part.is_piece and part.design_id]
    if not parts:
        return {}
    record = read_record()
    known = (
        Design.objects.select_related("alloy", "pattern_material")
        .prefetch_related("times")
        .in_bulk({part.design_id for part in parts})
    )
    learnt = {pk: learn(design, record).seconds for pk, design in known.items()}
    return {part.pk: learnt[part.design_id] for part in parts if learnt[part.design_id].is_known}


def _estimate(plan: Plan, uses: PlannedUses, policy: Policy, times: Mapping[int, Blend]) -> PlanEstimate:
    firing, bench = uses.firing_of(plan), uses.bench_of(plan)
    use = uses.use_of(plan, firing, policy)
    metal, short = estimate.share_charge(_planned_metal(plan, bench, times))
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
        bench_seconds=bench.cast_minutes * SECONDS_PER_MINUTE,
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
        design_times=_told_times(plan, times),
    )


def _told_times(plan: Plan, times: Mapping[int, Blend]) -> tuple[Working, ...]:
    found = {part.design_id: times[part.pk] for part in plan.parts.all() if part.pk in times}
    workings = [
        (part.label, found.pop(part.design_id)) for part in plan.parts.all() if part.design_id in found
    ]
    return tuple(
        replace(blend.working, title=f"{blend.working.title}, {label}")
        for label, blend in workings
        if blend.working is not None
    )


def _planned_metal(
    plan: Plan, bench: estimate.BenchMeans, learnt: Mapping[int, Blend]
) -> estimate.PlannedMetal:
    parts = [
        estimate.PlannedPart(
            *(part.label, part.mass_mg, part.count, part.material.density_mg_cm3 or 0),
            learnt[part.pk].value if part.pk in learnt else None,
        )
        for part in plan.parts.all()
        if part.is_piece
    ]
    charge = _planned_use(plan.alloy, plan.metal_mg, portions_for(plan, Use.METAL))
    return estimate.PlannedMetal(
        charge_mg=charge.planned,
        charge_micro=charge.cost_micro,
        loss_mg=plan.expected_loss_mg,
        pieces=estimate.compute_planned_pieces(
            parts, plan.alloy.density_mg_cm3, bench.piece_minutes * SECONDS_PER_MINUTE
        ),
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


@dataclass(frozen=True)
class PlanFact:
    """A plan with its estimate, and its cast with what is known of it; `costed` None until that is closed."""

    estimate: PlanEstimate
    costed: CostedCast | None = None
    metal: CastMetal = CastMetal()
    energy: Energy | None = None

    @property
    def plan(self) -> Plan:
        return self.estimate.plan

    @property
    def cast(self) -> Cast | None:
        return self.plan.cast

    @property
    def charge_mg(self) -> int | None:
        return self.metal.grams.charge_mg or None

    @property
    def powder_mg(self) -> int | None:
        return self.metal.now[POWDER].quantity or None

    @property
    def pieces_mg(self) -> int | None:
        """As cast, by the weights after the pour."""
        return self.metal.grams_at_close.pieces_mg if self.costed else None

    @property
    def back_mg(self) -> int | None:
        """By the same weights."""
        return self.metal.grams_at_close.back_mg if self.costed else None

    @property
    def lost_mg(self) -> int | None:
        """At the pour and in finishing, less what was found since."""
        return self.costed.inputs.lost_mg if self.costed else None

    @property
    def fresh_pct100(self) -> int | None:
        return compute_share_pct100(self.metal.fresh_mg, self.charge_mg) if self.charge_mg else None

    @property
    def yield_pct100(self) -> int | None:
        if self.pieces_mg is None or self.charge_mg is None:
            return None
        return compute_share_pct100(self.pieces_mg, self.charge_mg)

    @property
    def fired_minutes(self) -> int | None:
        firing = self.cast.firing if self.cast else None
        return firing.minutes if firing else None

    @property
    def energy_wh(self) -> int | None:
        return None if self.energy is None or self.energy.problem else self.energy.energy_wh


def facts_of(plan_ids: Iterable[int]) -> dict[int, PlanFact]:
    """Each of these plans beside what happened, by plan id, in the order of their days."""
    estimates = estimate_plans(plan_ids)
    casts = [one.plan.cast for one in estimates.values() if one.plan.cast is not None]
    ids = [cast.pk for cast in casts]
    costed, metals = cost_casts(ids), metal_of_casts(Q(entry__cast__in=ids))
    firings = [cast.firing for cast in casts if cast.firing is not None]
    last = max((firing.day for firing in firings), default=timezone.localdate())
    kilns = KilnRecords({firing.kiln_id for firing in firings}, last)
    energy = {firing.pk: kilns.energy_of(firing) for firing in firings}
    facts = {}
    for pk, planned in estimates.items():
        cast = planned.plan.cast
        facts[pk] = PlanFact(planned)
        if cast is not None:
            used = energy.get(cast.firing_id or 0)
            facts[pk] = PlanFact(planned, costed.get(cast.pk), metals[cast.pk], used)
    return facts


def plan_ids_of(first: date, last: date) -> list[int]:
    """The plans for the days of a time that were not given up."""
    zone = timezone.get_current_timezone()
    start = datetime.combine(first, time(), zone)
    end = datetime.combine(last + timedelta(days=1), time(), zone)
    plans = Plan.objects.filter(dropped=False, day__wish_at__gte=start, day__wish_at__lt=end)
    return list(plans.values_list("pk", flat=True))
