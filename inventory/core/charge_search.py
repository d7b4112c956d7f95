"""The best whole amounts under a few linear rules: an exact linear program, and branches to whole amounts.

Charges are small programs: a handful of kinds of metal, one total, at most three rules. An amount that is not
whole, or is smaller than a portion may be, is branched on: it is at most the next amount below that may be
taken, or at least the next above. A branch is dropped when even its linear program is worth no more than what was
found: branch and bound (A. H. Land and A. G. Doig, Econometrica 28 (1960), 497-520; from memory). Whole amounts near
those of each program are tried at once, which mostly ends the search.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod
from operator import mul

from .charge_simplex import SimplexTable

Spans = tuple[tuple[int, int], ...]

# A look costs as much as there are kinds of metal: few kinds are searched to the end, many for so many looks. The
# first looks are for the best charge in every respect, later ones only for more of what leads.
_MOST_WORK = 3000
_CLOSE_WORK = 500
# Amounts that are out of step are tried so far below and above.
_NEAR = (-2, -1, 0, 1, 2, 3)


@dataclass(frozen=True, slots=True)
class Choice:
    """One kind of metal, of which a whole amount is to be chosen.

    `spans` are the runs (first, last) of amounts that may be taken, ascending, the first from 0. `pulls` is what
    one unit adds to each rule; every rule holds where all pulls together are not below 0. `leading` and
    `lesser` are what one unit is worth by each aim, the weightiest aim first.
    """

    spans: Spans
    pulls: tuple[int, ...] = ()
    leading: tuple[int, ...] = ()
    lesser: tuple[int, ...] = ()

    def may_take(self, amount: int) -> bool:
        return any(first <= amount <= last for first, last in self.spans)


def search_amounts(choices: Sequence[Choice], total: int, must_fill: bool = True) -> list[int] | None:
    """Whole amounts that come to `total`, keep every rule and are best by the aims in turn; None where none do.

    Without `must_fill` the first aim is to come as near to the total as the rules allow. With few choices the
    amounts are the best there are; with dozens that are all unlike they are the best that a bounded search
    meets. All choices have as many pulls, and as many aims, as the first.
    """
    if not choices:
        return None if must_fill else []
    worths, lesser_span = _weigh(choices, total)
    rules = list(zip(*(choice.pulls for choice in choices), strict=True))
    most = [choice.spans[-1][1] for choice in choices]
    open_tables = [SimplexTable.begin(worths, most, rules, total, must_fill)]
    best = None if must_fill else [0] * len(choices)
    best_worth = work = 0
    while open_tables and work < _MOST_WORK:
        table = open_tables.pop()
        work += len(choices)
        if not table.settle():
            continue
        grain = 1 if work <= _CLOSE_WORK else lesser_span
        if best is not None and _round_to(_bound(table, worths), grain) <= _round_to(best_worth, grain):
            continue
        for amounts in _round_off(table, choices, rules, total if must_fill else None):
            worth = sum(map(mul, worths, amounts))
            if best is None or worth > best_worth:
                best, best_worth = amounts, worth
        open_tables += _branch(table, choices)
    return best


def _weigh(choices: Sequence[Choice], total: int) -> tuple[list[int], int]:
    """One number for what a unit is worth by all aims, and how much of it the lesser aims can make up.

    Each aim weighs more than all later ones together can come to, so that the aims are met in turn.
    """
    aims = list(zip(*((*choice.leading, *choice.lesser) for choice in choices), strict=True))
    spans = [2 * total * max(map(abs, aim)) + 1 for aim in aims]
    worths = [1] * len(choices)
    for aim, span in zip(aims, spans, strict=True):
        worths = [worth * span + of_unit for worth, of_unit in zip(worths, aim, strict=True)]
    return worths, prod(spans[len(choices[0].leading) :])


def _round_to(worth: int, grain: int) -> int:
    return (worth + grain // 2) // grain


def _bound(table: SimplexTable, worths: Sequence[int]) -> int:
    """What no whole amounts within the bounds of a settled table are worth more than."""
    values = table.scaled_values()
    return sum(worth * values.get(column, 0) for column, worth in enumerate(worths)) // table.scale


def _find_loose(table: SimplexTable, choices: Sequence[Choice]) -> list[tuple[int, int, int]]:
    """(choice, next amount below, next above) of what may not be taken as it is."""
    values = table.scaled_values()
    found = []
    for column in sorted(table.basis):
        if column < len(choices):
            below, above = _neighbours(choices[column].spans, values[column], table.scale)
            found += [(column, below, above)] if below != above else []
    return found


def _neighbours(spans: Spans, value: int, scale: int) -> tuple[int, int]:
    """The nearest amounts at or below, and at or above, value / scale, which is at most the last amount."""
    below, above = value // scale, -(-value // scale)
    lowest = 0
    for first, last in spans:
        if above <= last:
            return (below, above) if below >= first else (lowest, max(first, above))
        lowest = last
    return lowest, lowest


def _branch(table: SimplexTable, choices: Sequence[Choice]) -> list[SimplexTable]:
    """Two tables that leave out an amount that may not be taken; none when every amount may be."""
    for column, below, above in _find_loose(table, choices):
        low, high = table.copy(), table.copy()
        low.upper[column], high.lower[column] = below, above
        return [low, high]
    return []


def _round_off(
    table: SimplexTable, choices: Sequence[Choice], rules: Sequence[Sequence[int]], total: int | None
) -> Iterator[list[int]]:
    """Whole amounts near those of a settled table that keep the rules and, unless it is None, the total."""
    values = table.scaled_values()
    amounts = [values.get(column, 0) // table.scale for column in range(len(choices))]
    loose = [column for column, _, _ in _find_loose(table, choices)]
    if not loose:
        yield amounts
        return
    left = sum(amounts[column] for column in loose)
    if total is not None:
        left += total - sum(amounts)
    start = [amounts[column] for column in loose]
    spare = [sum(map(mul, rule, amounts)) for rule in rules]
    pulls = [[rule[column] for column in loose] for rule in rules]
    for steps in product(_NEAR, repeat=len(loose) - 1):
        moved = [*steps, left - sum(start[:-1]) - sum(steps) - start[-1]]
        if any(has + sum(map(mul, pull, moved)) < 0 for has, pull in zip(spare, pulls, strict=True)):
            continue
        tried = list(map(sum, zip(start, moved, strict=True)))
        if all(choices[column].may_take(amount) for column, amount in zip(loose, tried, strict=True)):
            found = list(amounts)
            for column, amount in zip(loose, tried, strict=True):
                found[column] = amount
            yield found
