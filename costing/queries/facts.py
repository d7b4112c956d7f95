"""Plan beside fact: what a plan meant to use and what its cast used, for many plans in a fixed handful of queries."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from django.db.models import Sum
from django.utils import timezone

from inventory.core.energy import Energy
from inventory.core.weighing import compute_share_pct100
from inventory.models import Cast, Entry, Holder, Lot, Movement, Plan
from inventory.queries.firing import KilnRecords
from inventory.queries.ledger import STANDING

from .costed import CostedCast, cost_casts
from .estimate import PlanEstimate, estimate_plans

What = Movement.What
_BACK = (What.BACK, What.FAILED)


@dataclass
class CastFigures:
    """What stands written down of a cast, in milligrams; None where nothing is yet."""

    charge_mg: int | None = None
    fresh_mg: int = 0
    powder_mg: int | None = None
    pieces_mg: int = 0
    back_mg: int = 0


@dataclass(frozen=True)
class PlanFact:
    """A plan with its estimate, and its cast with what is known of it; `costed` None until that is closed."""

    estimate: PlanEstimate
    costed: CostedCast | None = None
    figures: CastFigures = field(default_factory=CastFigures)
    energy: Energy | None = None

    @property
    def plan(self) -> Plan:
        return self.estimate.plan

    @property
    def cast(self) -> Cast | None:
        return self.plan.cast

    @property
    def pieces_mg(self) -> int | None:
        """As cast, by the weights after the pour."""
        return self.figures.pieces_mg if self.costed else None

    @property
    def back_mg(self) -> int | None:
        return self.figures.back_mg if self.costed else None

    @property
    def lost_mg(self) -> int | None:
        """At the pour and in finishing, less what was found since."""
        return self.costed.inputs.lost_mg if self.costed else None

    @property
    def fresh_pct100(self) -> int | None:
        charge_mg = self.figures.charge_mg
        return compute_share_pct100(self.figures.fresh_mg, charge_mg) if charge_mg else None

    @property
    def yield_pct100(self) -> int | None:
        charge_mg = self.figures.charge_mg
        if self.pieces_mg is None or not charge_mg:
            return None
        return compute_share_pct100(self.pieces_mg, charge_mg)

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
    costed, figures = cost_casts(ids), _gather_figures(ids)
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
                figures=figures[cast.pk],
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


def _gather_figures(cast_ids: list[int]) -> dict[int, CastFigures]:
    gathered: dict[int, CastFigures] = defaultdict(CastFigures)
    kinds = (Entry.Kind.CHARGE, Entry.Kind.POWDER, Entry.Kind.CLOSE)
    rows = (
        Movement.objects.filter(STANDING, entry__cast__in=cast_ids, entry__kind__in=kinds)
        .order_by()
        .values_list("entry__cast_id", "entry__kind", "what", "source__lot__origin", "target__kind")
        .annotate(total_mg=Sum("quantity"))
    )
    for cast, kind, what, origin, target, total_mg in rows:
        _add(gathered[cast], (kind, what), origin, target, total_mg)
    return gathered


def _add(figures: CastFigures, which: tuple[str, str], origin: str, target: str, total_mg: int) -> None:
    kind, what = which
    if kind == Entry.Kind.POWDER:
        figures.powder_mg = (figures.powder_mg or 0) + total_mg
    elif kind == Entry.Kind.CHARGE and target == Holder.Kind.CRUCIBLE:
        figures.charge_mg = (figures.charge_mg or 0) + total_mg
        figures.fresh_mg += total_mg if origin in Lot.FRESH else 0
    elif what == What.PIECE:
        figures.pieces_mg += total_mg
    elif what in _BACK:
        figures.back_mg += total_mg
