"""Reads for the words of care that hang on what is melted: zinc in it, or metal of unknown make."""

from collections.abc import Iterable

from django.db.models import Q

from inventory.models import Alloy, Plan, PlanPortion

from .plans import portions_for

ZINC = "Zn"


def melt_cautions(alloys: Iterable[int | None], has_unknown: bool = False) -> tuple[str, ...]:
    """The kinds of caution for a melt of these alloys (their ids); one query.

    Brass, bronze or gold whose composition nobody wrote down counts as holding zinc. `has_unknown` when some of the
    metal is of unknown make.
    """
    has_zinc = Q(parts__element=ZINC)
    not_written = Q(parts__isnull=True, metal__in=(Alloy.Metal.BASE, Alloy.Metal.GOLD))
    fumes = Alloy.objects.filter(has_zinc | not_written, pk__in={pk for pk in alloys if pk}).exists()
    return (*(("zinc",) if fumes else ()), *(("scrap",) if has_unknown else ()))


def plan_cautions(plans: Iterable[Plan]) -> tuple[str, ...]:
    """The same for plans that were read with their portions."""
    listed = list(plans)
    lots = [one.lot for plan in listed for one in portions_for(plan, PlanPortion.Use.METAL)]
    alloys = [*(plan.alloy_id for plan in listed), *(lot.material.alloy_id for lot in lots)]
    return melt_cautions(alloys, any(lot.is_of_unknown_make for lot in lots))
