"""Writing of quotes: their lines, their prices, and the plans that they become."""

from collections.abc import Iterable, Mapping, Sequence

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


def _refuse_too_few_flasks(drafts: Sequence[PlanDraft]) -> None:
    alike = {draft.flask.pk for draft in drafts}
    if len(alike) < len(drafts):
        raise Refused(
            f"This quote fills {len(drafts)} flasks of one firing, and of the size of {drafts[0].flask} you have "
            f"{len(alike)}. A flask cannot stand in one firing twice: write the others down in the set-up, or plan the "
            "flasks one by one.",
            "flask",
        )


def make_plans(quote: Quote, drafts: Sequence[PlanDraft], studio: Studio) -> list[Plan]:
    """Plan every flask of a quote, all in one firing: each holds what the ones before it have left.

    Raises Refused for a quote that has open plans, and for a tree that leaves no room for powder.
    """
    with studio_locked():
        if quote.plans.filter(dropped=False).exists():
            raise Refused("This quote is planned already. Give its plans up first, if they are wrong.")
        _refuse_too_few_flasks(drafts)
        day: CastingDay | None = None
        made = []
        for draft in drafts:
            worked = work_out(draft, studio)
            if worked.powder.problems:
                raise Refused(worked.powder.problems[0], "flask")
            plan = save_plan(worked, day=day)
            day = plan.day
            made.append(plan)
        quote.plans.add(*made)
    return made
