"""The order that costs least, among all orders of at most two sorts of pack of each material.

Every order is looked at, or left out for a reason that is exact:

- of each material counts are only followed as long as they can still pay by what they do to carriage (`choosing_ways`);
- of two ways to order a material from the same suppliers the dearer one is of no use where the parcels reach no other
  step of carriage by it;
- what is begun is given up where the rest at its cheapest, with the least carriage that its parcels can come to, costs
  as much as an order already found.

Own costs are whole millionths rounded down here. Where the rounding could decide, all are worked out exactly.

Small packs of many materials with a year's use may come to more ways than a page can wait for. Then the best that was
found is given, and that it is not sure.
"""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import combinations

from .choosing import Ahead, Choice, Need, Pack, Terms, compute_carriage, lowest_rate, make_part
from .choosing_ways import MOST_PACKS, ROUNDED, Costs, Parcels, Way

_FEW_SUPPLIERS = 4
_TRIED_FIRST = 30
MOST_TRIED = 120_000
"""So many steps of the search take a second or less."""
_COMPARED = 8
"""With so many of the cheapest and of the last that were kept a way is compared: with all of them takes longer."""


def choose_order(
    needs: Sequence[Need],
    packs: Sequence[Pack],
    terms: Mapping[int, Terms],
    ahead: Ahead,
    everywhere: Sequence[Pack] = (),
) -> Choice | None:
    """The order that costs least; None where something that must come is offered by nobody, or too little of it.

    `everywhere` are all packs that what is left is priced by, where only some of them may be ordered.
    """
    costs = []
    for need in needs:
        own = [pack for pack in packs if pack.material == need.material]
        priced = [pack for pack in everywhere or packs if pack.material == need.material]
        costs.append(Costs(need, own, terms, ahead, lowest_rate(priced)))
    starts = [list(cost.list_starts()) for cost in costs]
    if not all(starts):
        return None
    known = _find_any(starts, terms)
    most = None if known is None else known[0] + ROUNDED * len(starts)
    found = [] if known is None else [known]
    cheapest = [min(start.own for start, _ in found) for found in starts]
    if most is not None:
        # A good order, found among the cheapest ways alone, leaves few others that can still win.
        few = [sorted((way for way, _ in found), key=_own)[:_TRIED_FIRST] for found in starts]
        first = _Search(costs, few, terms, most)
        most = first.find_most()
        found += first.found
    spare = None if most is None else most - sum(cheapest)
    ways = [
        cost.follow(begun, None if spare is None else least + spare)
        for cost, begun, least in zip(costs, starts, cheapest, strict=True)
    ]
    return _Search(costs, ways, terms, most).run(found)


def _find_any(
    starts: Sequence[Sequence[tuple[Way, int]]], terms: Mapping[int, Terms]
) -> tuple[int, tuple[Way, ...]] | None:
    """Some order and what it costs at least: each material at its cheapest from a few suppliers; None if none is
    allowed."""
    suppliers = sorted({supplier for found in starts for way, _ in found for supplier in way.parcels})
    most = len(suppliers) if len(suppliers) <= _FEW_SUPPLIERS else MOST_PACKS
    sets = [set(some) for size in range(1, most + 1) for some in combinations(suppliers, size)]
    totals = []
    for allowed in [*sets, set(suppliers)]:
        chosen = [
            min((way for way, _ in found if allowed.issuperset(way.parcels)), key=_own, default=None)
            for found in starts
        ]
        ways = [way for way in chosen if way is not None]
        carriage = compute_carriage((line for way in ways for line in way.lines), terms)
        if len(ways) == len(starts) and carriage is not None:
            totals.append((sum(way.own for way in ways) + sum(carriage.values()), tuple(ways)))
    return min(totals, key=lambda one: one[0], default=None)


def _own(way: Way) -> int:
    return way.own


class _Search:
    """Depth first through one way for each material, what cannot win left out."""

    def __init__(
        self,
        costs: Sequence[Costs],
        ways: Sequence[Sequence[Way]],
        terms: Mapping[int, Terms],
        most: int | None,
    ) -> None:
        self.costs, self.terms = costs, terms
        self.most = most
        self.tried = 0
        self.slack = ROUNDED * len(ways)
        ways = self._drop_dear(ways, self._reach(ways)[0])
        reach = self._reach(ways)[0]
        self.ways = [self._drop_useless(found, reach) for found in ways]
        self.reach = self._reach(self.ways)
        rest = [0]
        for found in reversed(self.ways):
            rest.append(rest[-1] + min((way.own for way in found), default=0))
        self.rest = rest[::-1]
        self.found: list[tuple[int, tuple[Way, ...]]] = []

    def _reach(self, ways: Sequence[Sequence[Way]]) -> list[dict[int, tuple[int, int]]]:
        """The most that the parcels of each supplier can still grow by, from each material on."""
        reach: list[dict[int, tuple[int, int]]] = [dict.fromkeys(self.terms, (0, 0))]
        for found in reversed(ways):
            grown = {}
            for supplier, (price, weight) in reach[-1].items():
                there = [way.parcels[supplier] for way in found if supplier in way.parcels]
                grown[supplier] = (
                    price + max((one[0] for one in there), default=0),
                    weight + max((one[1] for one in there), default=0),
                )
            reach.append(grown)
        return reach[::-1]

    def _drop_dear(self, ways: Sequence[Sequence[Way]], reach: Parcels) -> list[list[Way]]:
        """Without ways that cost too much with the carriage that their own suppliers take at the least."""
        cheapest = [found[0].own for found in ways]
        kept = []
        for found, least in zip(ways, cheapest, strict=True):
            others = sum(cheapest) - least
            kept.append(
                [
                    way
                    for way in found
                    if (carriage := self._least_carriage(way.parcels, reach)) is not None
                    and self._may_win(way.own + others + carriage)
                ]
            )
        return kept

    def _drop_useless(self, ways: Sequence[Way], reach: Parcels) -> list[Way]:
        """Of ways through the same suppliers, dearer ones that no parcel can gain by."""
        kept: dict[tuple[int, ...], list[tuple[Way, tuple[int, ...]]]] = {}
        result = []
        for way in ways:
            suppliers = tuple(sorted(way.parcels))
            # The better, the higher.
            merits = tuple(
                merit
                for supplier in suppliers
                for merit in _merits(self.terms[supplier], way.parcels[supplier], reach[supplier])
            )
            others = kept.setdefault(suppliers, [])
            if not any(
                way.own - other.own >= ROUNDED
                and all(theirs >= own for theirs, own in zip(one, merits, strict=True))
                for other, one in others[:_COMPARED] + others[-_COMPARED:]
            ):
                others.append((way, merits))
                result.append(way)
        return result

    def find_most(self) -> int | None:
        """What the best of these costs at most; never more than what was known before."""
        if all(self.ways):
            self._go((), 0, {})
        return self.most

    def run(self, known: Sequence[tuple[int, tuple[Way, ...]]]) -> Choice | None:
        """The cheapest of all ways and of those that are known already."""
        self.find_most()
        chosen = [self._work_out(ways) for least, ways in [*known, *self.found] if self._may_win(least)]
        return min(chosen, key=lambda choice: choice.total_micro, default=None)

    def _may_win(self, least: int) -> bool:
        return self.most is None or least <= self.most

    def _work_out(self, ways: Sequence[Way]) -> Choice:
        carriage = compute_carriage((line for way in ways for line in way.lines), self.terms) or {}
        parts = tuple(
            make_part(cost.need, way.lines, cost.terms, cost.ahead, cost.lowest)
            for cost, way in zip(self.costs, ways, strict=True)
        )
        total = sum((part.own_micro for part in parts), Fraction(0)) + sum(carriage.values())
        return Choice(parts, carriage, total, self.tried <= MOST_TRIED)

    def _go(self, ways: tuple[Way, ...], own: int, parcels: Parcels) -> None:
        place = len(ways)
        if place == len(self.ways):
            self._finish(ways, own, parcels)
            return
        for way in self.ways[place]:
            self.tried += 1
            if self.tried > MOST_TRIED:
                return
            so_far = own + way.own
            if not self._may_win(so_far + self.rest[place + 1]):
                break
            grown = dict(parcels)
            for supplier, (price, weight) in way.parcels.items():
                before = grown.get(supplier, (0, 0))
                grown[supplier] = before[0] + price, before[1] + weight
            carriage = self._least_carriage(grown, self.reach[place + 1])
            if carriage is not None and self._may_win(so_far + self.rest[place + 1] + carriage):
                self._go((*ways, way), so_far, grown)

    def _least_carriage(self, parcels: Parcels, reach: Parcels) -> int | None:
        """The least that these parcels can cost to bring when the rest is added; None below a least order."""
        least = 0
        for supplier, (price, weight) in parcels.items():
            terms, (more_price, more_weight) = self.terms[supplier], reach[supplier]
            if price + more_price < terms.least_micro:
                return None
            now = weight if terms.by_weight else price
            least += _least_between(terms, now, now + (more_weight if terms.by_weight else more_price))
        return least

    def _finish(self, ways: tuple[Way, ...], own: int, parcels: Parcels) -> None:
        carriage = self._least_carriage(parcels, self.reach[-1])
        if carriage is None:
            return
        total = own + carriage
        self.found.append((total, ways))
        if self.most is None or total + self.slack < self.most:
            self.most = total + self.slack


def _least_between(terms: Terms, low: int, high: int) -> int:
    """The least carriage of a parcel that comes to something from `low` to `high`."""
    found = terms.carriage_micro(low, low)
    for reached, carriage in terms.carriage:
        if low < reached <= high:
            found = min(found, carriage)
    return found


def _merits(terms: Terms, parcel: tuple[int, int], reach: tuple[int, int]) -> Iterator[int]:
    """What of a parcel may count for carriage or for a least order, each the better the higher it is."""
    price, weight = parcel
    size, most = (weight, reach[1]) if terms.by_weight else (price, reach[0])
    steps = sorted(band for band in terms.carriage if band[0] <= most)
    costs = [carriage for _, carriage in steps]
    if len(set(costs)) > 1 or (steps and steps[0][0] > 0 and costs[0]):
        if costs == sorted(costs, reverse=True) and not (steps[0][0] > 0 and costs[0]):
            yield size
        elif costs == sorted(costs):
            yield -size
        else:
            # More of it may be better or worse: only the same is as good.
            yield size
            yield -size
    if terms.least_micro > 0:
        yield min(price, terms.least_micro)
