"""Writing of quotes: their lines, their prices, and the plans that they become."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from costing.models import Quote, QuoteLine
from inventory.models import CastingDay, Design, Plan, Studio
from inventory.posting.locking import studio_locked
from inventory.posting.planning import save_plan
from inventory.posting.refusal import Refused
from inventory.queries.plan_figures import work_out
from inventory.queries.plans import PlanDraft

Line = tuple[Design, int, int | None, int | None]


def write_lines(quote: Quote, lines: Iterable[Line]) -> None:
    """Give a saved quote its lines: design, quantity, price each or None, and how many fill a flask or None."""
    quote.lines.all().delete()
    QuoteLine.objects.bulk_create(
        QuoteLine(quote=quote, design=design, quantity=quantity, price_micro=price, fits=fits, place=place)
        for place, (design, quantity, price, fits) in enumerate(lines)
    )


def keep_prices(prices: Mapping[int, int]) -> int:
    """Offer these prices from now on, in millionths by line, whatever the rules say later. Returns how many are new."""
    with studio_locked():
        lines = QuoteLine.objects.filter(pk__in=list(prices))
        changed = [line for line in lines if line.price_micro != prices[line.pk]]
        for line in changed:
            line.price_micro = prices[line.pk]
        QuoteLine.objects.bulk_update(changed, ["price_micro"])
    return len(changed)


def make_plans(quote: Quote, drafts: Sequence[PlanDraft], studio: Studio) -> list[Plan]:
    """Plan every flask of a quote, those of one moment in one firing: each holds what the ones before it have left.

    Raises Refused for a quote that has open plans, and for a tree that leaves no room for powder.
    """
    with studio_locked():
        if quote.plans.filter(dropped=False).exists():
            raise Refused("This quote is planned already. Give its plans up first, if they are wrong.")
        firings: dict[datetime, CastingDay] = {}
        made = []
        for draft in drafts:
            worked = work_out(draft, studio)
            if worked.powder.problems:
                raise Refused(worked.powder.problems[0], "flask")
            plan = save_plan(worked, day=firings.get(draft.day.wish_at))
            firings[draft.day.wish_at] = plan.day
            made.append(plan)
        quote.plans.add(*made)
    return made
