"""Every way to order one material, with what it costs without carriage: the fewest packs that are enough, and more.

One more pack of the same sort, at the same price each, never makes it cost less: the price is never below what is left
is worth, and more lies longer. So the counts are only followed as long as a way costs no more than is asked.

Costs are whole millionths rounded down.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

from studio.kit.units import PCT100_WHOLE

from .choosing import DAYS_A_YEAR, Ahead, Line, Need, Pack, Terms

MOST_PACKS = 2
"""So many sorts of pack of one material may be in one order."""

ROUNDED = 4
"""An own cost here is at most this much below the exact one: duty, holding, credit, and one for good measure."""

Parcels = Mapping[int, tuple[int, int]]
"""The goods' price and weight by supplier."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way to order a material: own cost rounded down, and the goods' price and weight by supplier."""

    own: int
    lines: tuple[Line, ...]
    parcels: Parcels


class Costs:
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

    def make(self, *lines: Line) -> Way:
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
        return Way(own, lines, parcels)

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

    def list_starts(self) -> Iterator[tuple[Way, int]]:
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

    def _start(self, pack: Pack, before: tuple[Line, ...]) -> Iterator[tuple[Way, int]]:
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

    def follow(self, starts: Sequence[tuple[Way, int]], at_most: int | None) -> list[Way]:
        """Every way from the starts that does not cost more than `at_most`, cheapest first."""
        found = []
        for start, last in starts:
            way = start
            # The rounding may make the next one up to so much cheaper.
            while at_most is None or way.own <= at_most + ROUNDED:
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
