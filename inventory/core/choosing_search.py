"""The order that costs least, among all orders of at most two sorts of pack of each material.

Every order is looked at, or left out for a reason that is exact:

- one more pack of the same sort, at the same price each, never makes a material's own cost less, so from the fewest
  that are enough the counts are only followed as long as they can still pay by what they do to carriage;
- of two ways to order a material from the same suppliers the dearer one is of no use where the parcels reach no other
  step of carriage by it;
- what is begun is given up where the rest at its cheapest, with the least carriage that its parcels can come to, costs
  as much as an order already found.

Own costs are whole millionths rounded down here. Where the rounding could decide, all are worked out exactly.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

from studio.kit.units import PCT100_WHOLE

from .choosing import (
    DAYS_A_YEAR,
    Ahead,
    Choice,
    Line,
    Need,
    Pack,
    Terms,
    compute_carriage,
    lowest_rate,
    make_part,
)

MOST_PACKS = 2
"""So many sorts of pack of one material may be in one order."""

_ROUNDED = 4
"""An own cost here is at most this much below the exact one: duty, holding, credit, and one for good measure."""
_FEW_SUPPLIERS = 4
_TRIED_FIRST = 30
_COMPARED = 8
"""With so many of the cheapest and of the last that were kept a way is compared: with all of them takes longer."""

_Parcels = Mapping[int, tuple[int, int]]


@dataclass(frozen=True, slots=True)
class _Way:
    """One way to order a material: own cost rounded down, and the goods' price and weight by supplier."""

    own: int
    lines: tuple[Line, ...]
    parcels: _Parcels


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
        costs.append(_Costs(need, own, terms, ahead, lowest_rate(priced)))
    starts = [list(cost.list_starts()) for cost in costs]
    if not all(starts):
        return None
    most = _find_any(starts, terms)
    cheapest = [min(start.own for start, _ in found) for found in starts]
    if most is not None:
        # A good order, found among the cheapest ways alone, leaves few others that can still win.
        few = [sorted((way for way, _ in found), key=_own)[:_TRIED_FIRST] for found in starts]
        most = _Search(costs, few, terms, most).find_most()
    spare = None if most is None else most - sum(cheapest)
    ways = [
        cost.follow(found, None if spare is None else least + spare)
        for cost, found, least in zip(costs, starts, cheapest, strict=True)
    ]
    return _Search(costs, ways, terms, most).run()


class _Costs:
    """Own costs of one material in whole millionths, and every way to order it."""

    def __init__(
        self,
        need: Need,
        packs: Sequence[Pack],
        terms: Mapping[int, Terms],
        ahead: Ahead,
        lowest: Fraction,
    ) -> None:
        self.need, self.terms, self.ahead, self.lowest = need, terms, ahead, lowest
        # The larger pack of two is counted first: there are fewer counts of it.
        self.packs = sorted(packs, key=lambda pack: -pack.quantity)
        self.limit = max(need.least, need.most)
        a_day, days = need.a_day, ahead.days
        soon = max(a_day * days - need.still, Fraction(0))
        self.soon = -(-soon.numerator // soon.denominator)
        # Held until it is used: (2 still + quantity) / (2 a day) days in the mean while all of it is used by the day
        # ahead; else the days ahead, less soon * soon / (2 a day) over all of it.
        self.early = soon * soon / (2 * a_day) if a_day > 0 else Fraction(0)
        self.rooms = {
            pack.key: None if pack.keeps_days is None else max(_up(a_day * pack.keeps_days) - need.still, 0)
            for pack in packs
        }

    def make(self, *lines: Line) -> _Way:
        goods, duty = 0, 0
        parcels: dict[int, tuple[int, int]] = {}
        for line in lines:
            price, supplier = line.price_micro, line.pack.supplier
            goods += price
            duty += price * self.terms[supplier].duty_pct100
            before = parcels.get(supplier, (0, 0))
            parcels[supplier] = before[0] + price, before[1] + line.weight_mg
        quantity = sum(line.quantity for line in lines)
        duty //= PCT100_WHOLE
        own = goods + duty + self._hold(quantity, goods + duty) - self._credit(lines)
        return _Way(own, lines, parcels)

    def _hold(self, quantity: int, value: int) -> int:
        if not quantity or not self.ahead.holding_pct100:
            return 0
        a_day, days = self.need.a_day, self.ahead.days
        up = value * self.ahead.holding_pct100
        down = PCT100_WHOLE * DAYS_A_YEAR
        if a_day > 0 and quantity <= self.soon:
            # Rounded up, the days ahead may be a unit short of it: the mean is the same to far less than a millionth.
            return (
                up * (2 * self.need.still + quantity) * a_day.denominator // (2 * a_day.numerator * down) - 1
            )
        early = self.early
        held = quantity * days * early.denominator - early.numerator
        return up * held // (quantity * early.denominator * down)

    def _credit(self, lines: Sequence[Line]) -> int:
        used = 0
        for line in sorted(lines, key=_ends):
            room = self.rooms[line.pack.key]
            used += line.quantity if room is None else min(line.quantity, max(room - used, 0))
        left = max(used - self.need.taken, 0)
        return -(-left * self.lowest.numerator // self.lowest.denominator)

    def list_starts(self) -> Iterator[tuple[_Way, int]]:
        """The fewest packs of the last sort that are enough, for each count of the first and each price of the last.

        With each goes the most of them that are looked at. Where nothing must come, ordering nothing is one of them.
        """
        need = self.need
        if need.least <= 0:
            yield self.make(), 0
        for pack in self.packs:
            yield from self._start(pack, ())
        for first, last in combinations(self.packs, MOST_PACKS):
            packs = 1
            while (packs - 1) * first.quantity + last.quantity < self.limit:
                yield from self._start(last, (Line(first, packs),))
                packs += 1

    def _start(self, pack: Pack, before: tuple[Line, ...]) -> Iterator[tuple[_Way, int]]:
        there = sum(line.quantity for line in before)
        spare = sum(line.pack.quantity for line in before)
        # No pack of either sort could be left out and the limit still be reached.
        most = -(-(self.limit - there) // pack.quantity)
        if before:
            most = min(most, -(-(self.limit - there + spare) // pack.quantity) - 1)
        enough = max(-(-(self.need.least - there) // pack.quantity), 1)
        steps = [step for step, _ in pack.prices]
        for step, following in zip(steps, [*steps[1:], most + 1], strict=True):
            fewest, last = max(step, enough), min(following - 1, most)
            if fewest <= last:
                yield self.make(*before, Line(pack, fewest)), last

    def follow(self, starts: Sequence[tuple[_Way, int]], at_most: int | None) -> list[_Way]:
        """Every way from the starts that does not cost more than `at_most`, cheapest first."""
        found = []
        for start, last in starts:
            way = start
            while at_most is None or way.own <= at_most:
                found.append(way)
                if not way.lines or way.lines[-1].packs >= last:
                    break
                *before, line = way.lines
                way = self.make(*before, Line(line.pack, line.packs + 1))
        return sorted(found, key=lambda way: way.own)


def _ends(line: Line) -> tuple[bool, int]:
    days = line.pack.keeps_days
    return days is None, days or 0


def _up(number: Fraction) -> int:
    return -(-number.numerator // number.denominator)


def _find_any(starts: Sequence[Sequence[tuple[_Way, int]]], terms: Mapping[int, Terms]) -> int | None:
    """What some order costs at most: each material at its cheapest from a few suppliers; None if none is allowed."""
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
            totals.append(sum(way.own + _ROUNDED for way in ways) + sum(carriage.values()))
    return min(totals, default=None)


def _own(way: _Way) -> int:
    return way.own


class _Search:
    """Depth first through one way for each material, what cannot win left out."""

    def __init__(
        self,
        costs: Sequence[_Costs],
        ways: Sequence[Sequence[_Way]],
        terms: Mapping[int, Terms],
        most: int | None,
    ) -> None:
        self.costs, self.terms = costs, terms
        self.most = most
        self.slack = _ROUNDED * len(ways)
        ways = self._drop_dear(ways, self._reach(ways)[0])
        reach = self._reach(ways)[0]
        self.ways = [self._drop_useless(found, reach) for found in ways]
        self.reach = self._reach(self.ways)
        rest = [0]
        for found in reversed(self.ways):
            rest.append(rest[-1] + min((way.own for way in found), default=0))
        self.rest = rest[::-1]
        self.found: list[tuple[int, tuple[_Way, ...]]] = []

    def _reach(self, ways: Sequence[Sequence[_Way]]) -> list[dict[int, tuple[int, int]]]:
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

    def _drop_dear(self, ways: Sequence[Sequence[_Way]], reach: _Parcels) -> list[list[_Way]]:
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

    def _drop_useless(self, ways: Sequence[_Way], reach: _Parcels) -> list[_Way]:
        """Of ways through the same suppliers, dearer ones that no parcel can gain by."""
        kept: dict[tuple[int, ...], list[tuple[_Way, tuple[int, ...]]]] = {}
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
                way.own - other.own >= _ROUNDED
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

    def run(self) -> Choice | None:
        self.find_most()
        chosen = [self._work_out(ways) for least, ways in self.found if self._may_win(least)]
        return min(chosen, key=lambda choice: choice.total_micro, default=None)

    def _may_win(self, least: int) -> bool:
        return self.most is None or least <= self.most

    def _work_out(self, ways: Sequence[_Way]) -> Choice:
        carriage = compute_carriage((line for way in ways for line in way.lines), self.terms) or {}
        parts = tuple(
            make_part(cost.need, way.lines, cost.terms, cost.ahead, cost.lowest)
            for cost, way in zip(self.costs, ways, strict=True)
        )
        total = sum((part.own_micro for part in parts), Fraction(0)) + sum(carriage.values())
        return Choice(parts, carriage, total)

    def _go(self, ways: tuple[_Way, ...], own: int, parcels: _Parcels) -> None:
        place = len(ways)
        if place == len(self.ways):
            self._finish(ways, own, parcels)
            return
        for way in self.ways[place]:
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

    def _least_carriage(self, parcels: _Parcels, reach: _Parcels) -> int | None:
        """The least that these parcels can cost to bring when the rest is added; None below a least order."""
        least = 0
        for supplier, (price, weight) in parcels.items():
            terms, (more_price, more_weight) = self.terms[supplier], reach[supplier]
            if price + more_price < terms.least_micro:
                return None
            now = weight if terms.by_weight else price
            least += _least_between(terms, now, now + (more_weight if terms.by_weight else more_price))
        return least

    def _finish(self, ways: tuple[_Way, ...], own: int, parcels: _Parcels) -> None:
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
