"""Reads for whether a day was worth it: a cast, its plan, good casts of its family before it, and the evidence.

The number of queries does not depend on how many casts there are.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from costing.core.inputs import OWN_METAL, CastInput
from costing.core.rollup import CastCost, compute_printed
from costing.core.worth import MOST_GOOD, Beside, DayFigures, compare_gram
from inventory.models import Cast, Plan, Studio
from inventory.queries.cast_metal import WEIGHED_OUT
from inventory.queries.casting_page import find_cast
from inventory.queries.evidence import Evidence, LikelyCause, read_evidence

from .costed import CostedCast, cost_casts
from .estimate import estimate_plans

#: Of so many casts of its family before it the good ones are looked for.
LOOKED_THROUGH = 3 * MOST_GOOD


@dataclass(frozen=True)
class Worth:
    """A cast that was weighed out with all that is told of whether its day was worth it.

    `planned` None: it had no plan. `good` are casts of its family before it, all of whose castings were kept.
    """

    cast: Cast
    own: DayFigures
    planned: DayFigures | None
    good: Sequence[DayFigures]
    evidence: Evidence

    @property
    def failed(self) -> bool:
        return self.evidence.casts[self.cast.pk].failed

    @cached_property
    def beside(self) -> Beside | None:
        return compare_gram(self.own, self.good)

    @cached_property
    def causes(self) -> list[LikelyCause]:
        """What stands in its record, by how sure it goes with failed casts."""
        return self.evidence.causes_of(self.cast.pk)

    @property
    def unread(self) -> list[str]:
        """What was not written down at its pour."""
        recorded = self.evidence.casts[self.cast.pk]
        named = (
            ("the vacuum", recorded.vacuum_tenths),
            ("the temperature of the metal", recorded.metal_c),
            ("that of the flask", recorded.flask_c),
        )
        return [name for name, reading in named if not reading]


def read_worth(number: int, studio: Studio) -> Worth | None:
    """None where a cast is not weighed out: it is open, not there, or ended without a pour."""
    cast = find_cast(number)
    if cast is None or not cast.is_closed or cast.outcome == Cast.Outcome.UNPOURED:
        return None
    evidence = read_evidence(studio)
    good = _good_before(cast, evidence)
    costed = cost_casts([cast.pk, *good])
    plan = Plan.objects.filter(cast=cast).values_list("pk", flat=True).first()
    return Worth(
        cast,
        figures_of(costed[cast.pk], studio),
        _planned(plan, studio) if plan else None,
        [figures_of(costed[pk], studio) for pk in good],
        evidence,
    )


def newest_weighed_out() -> int | None:
    """The number of the cast that was weighed out last."""
    casts = Cast.objects.filter(WEIGHED_OUT).order_by("-closed_on", "-pk")
    return casts.values_list("number", flat=True).first()


def _good_before(cast: Cast, evidence: Evidence) -> list[int]:
    family = Cast.objects.filter(WEIGHED_OUT, alloy__metal=cast.alloy.metal, number__lt=cast.number)
    keys = family.order_by("-number").values_list("pk", flat=True)[:LOOKED_THROUGH]
    return [pk for pk in keys if not evidence.casts[pk].failed][:MOST_GOOD]


def _planned(plan: int, studio: Studio) -> DayFigures:
    estimate = estimate_plans([plan])[plan]
    return _figures(estimate.inputs, estimate.cost, studio)


def figures_of(costed: CostedCast, studio: Studio) -> DayFigures:
    return _figures(costed.inputs, costed.cost, studio)


def _figures(inputs: CastInput, cost: CastCost, studio: Studio) -> DayFigures:
    """Money as it is printed where the cost is told, so that both say the same."""
    printed = compute_printed(cost, studio.penny_micro)
    return DayFigures(
        charge_mg=inputs.charge_mg,
        back_mg=inputs.back_mg,
        lost_mg=inputs.lost_mg,
        seconds=inputs.bench_seconds + sum(piece.bench_seconds for piece in inputs.pieces),
        total_micro=printed.total_micro,
        metal_micro=sum(line.total_micro for line in printed.lines if line.key == OWN_METAL),
    )
