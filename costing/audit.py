"""Costing's part of the audit: what the pieces of a cast carry and what was set aside is what the cast cost."""

from collections.abc import Iterator

from costing.core.inputs import check_cast_adds_up
from costing.queries.costed import CostedCast, cost_casts
from inventory.audit import Finding, Ledger, register_check
from inventory.models import Cast

# So many at once: their pieces and movements fit in memory, however many years there are.
AT_ONCE = 1000


@register_check
def check_costs_add_up(ledger: Ledger) -> Finding:
    """Promise 6, over every closed cast by the rules of its own day."""
    finding = Finding("the cost of a cast is what its pieces carry and what was set aside")
    numbers = list(Cast.objects.filter(closed_on__isnull=False).order_by("pk").values_list("pk", flat=True))
    for start in range(0, len(numbers), AT_ONCE):
        costed = cost_casts(numbers[start : start + AT_ONCE])
        for number in list(costed):
            finding.checked += 1
            # Each is let go once it was judged, and its cost with it.
            finding.problems += _problems_of(costed.pop(number))
    return finding


def _problems_of(costed: CostedCast) -> Iterator[str]:
    number = costed.cast.number
    problems = check_cast_adds_up(costed.inputs)
    if problems:
        yield f"cast {number}: {problems[0]}"
        return
    cost = costed.cost
    carried_micro = sum(cost.piece_totals_micro)
    if carried_micro + cost.set_aside_micro != cost.total_micro:
        yield (
            f"cast {number} cost {cost.total_micro} millionths; its pieces carry {carried_micro} and "
            f"{cost.set_aside_micro} is set aside"
        )
    for line in cost.lines:
        if sum(line.piece_micro) + line.set_aside_micro != line.total_micro:
            yield f"cast {number}: the line {line.label!r} does not add up"
