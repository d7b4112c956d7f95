"""Plan beside fact: what a plan meant to use and what its cast used, for many plans in a fixed handful of queries."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Q
from django.utils import timezone

from inventory.core.energy import Energy
from inventory.core.weighing import compute_share_pct100
from inventory.models import Cast, Plan
from inventory.queries.cast_metal import POWDER, CastMetal, metal_of_casts
from inventory.queries.firing import KilnRecords

from .costed import CostedCast, cost_casts
from .estimate import PlanEstimate, estimate_plans


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
    for pk, estimate in estimates.items():
        cast = estimate.plan.cast
        facts[pk] = (
            PlanFact(estimate)
            if cast is None
            else PlanFact(
                estimate=estimate,
                costed=costed.get(cast.pk),
                metal=metals[cast.pk],
                energy=energy.get(cast.firing_id or 0),
            )
        )
    return facts


def plan_ids_of(first: date, last: date) -> list[int]:
    """The plans for the days of a time that were not given up."""
    zone = timezone.get_current_timezone()
    start = datetime.combine(first, time(), zone)
    end = datetime.combine(last + timedelta(days=1), time(), zone)
    plans = Plan.objects.filter(dropped=False, day__wish_at__gte=start, day__wish_at__lt=end)
    return list(plans.values_list("pk", flat=True))
