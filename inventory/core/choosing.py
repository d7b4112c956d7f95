"""What an order of packs costs until a day ahead: goods, duty, carriage, money in stock, and what goes stale.

Quantities are in the material's small unit, money in millionths, shares in hundredths of a per cent; nothing is
rounded. Which order costs least is found in `choosing_search`.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import isqrt

from studio.kit.units import PCT100_WHOLE

DAYS_A_YEAR = 365


@dataclass(frozen=True, slots=True)
class Need:
    """What is wanted of one material.

    `least` must come, `taken` is what use is expected to take of it until the day ahead, `still` is here when it comes
    and is used first, `a_day` is the rate of use. No more than `most` is looked at.
    """

    material: int
    least: int
    taken: int
    still: int
    a_day: Fraction
    most: int


@dataclass(frozen=True, slots=True)
class Pack:
    """An offer of one supplier: `prices` of a pack from so many packs on, rising from 1; how long it is good.

    `weighs_mg` is what counts for carriage by weight; None where that is the quantity itself.
    """

    key: int
    supplier: int
    material: int
    quantity: int
    prices: tuple[tuple[int, int], ...]
    keeps_days: int | None = None
    weighs_mg: int | None = None

    def price_micro(self, packs: int) -> int:
        """What one of so many packs costs."""
        return max((step for step in self.prices if step[0] <= packs), default=self.prices[0])[1]


@dataclass(frozen=True, slots=True)
class Terms:
    """What a supplier takes beside: carriage from a parcel's price on, or from its weight on; a least order; duty."""

    supplier: int
    carriage: tuple[tuple[int, int], ...] = ((0, 0),)
    by_weight: bool = False
    least_micro: int = 0
    duty_pct100: int = 0

    def carriage_micro(self, price_micro: int, weight_mg: int) -> int:
        reached = weight_mg if self.by_weight else price_micro
        return max((band for band in self.carriage if band[0] <= reached), default=(0, 0))[1]


@dataclass(frozen=True, slots=True)
class Ahead:
    """How far ahead is looked, and what money in stock costs in a year."""

    days: int
    holding_pct100: int = 0


@dataclass(frozen=True, slots=True)
class Line:
    pack: Pack
    packs: int

    @property
    def quantity(self) -> int:
        return self.pack.quantity * self.packs

    @property
    def weight_mg(self) -> int:
        weighs = self.pack.weighs_mg
        return (self.pack.quantity if weighs is None else weighs) * self.packs

    @property
    def price_micro(self) -> int:
        return self.pack.price_micro(self.packs) * self.packs


@dataclass(frozen=True, slots=True)
class Part:
    """One material of an order: its lines, and what they come to without carriage.

    `used` is taken before it is out of date, `stale` is not; `left` of what is used is still there at the day ahead and
    is worth `credit_micro`, at the lowest price that anybody asks.
    """

    need: Need
    lines: tuple[Line, ...]
    goods_micro: int
    duty_micro: Fraction
    holding_micro: Fraction
    used: Fraction
    stale: Fraction
    left: Fraction
    credit_micro: Fraction

    @property
    def own_micro(self) -> Fraction:
        return self.goods_micro + self.duty_micro + self.holding_micro - self.credit_micro


@dataclass(frozen=True, slots=True)
class Choice:
    """An order: its parts, carriage by supplier, and what all of it costs until the day ahead.

    Not `is_sure` where there were more ways to order than could be looked at: it is the best of those that were.
    """

    parts: tuple[Part, ...]
    carriage_micro: Mapping[int, int]
    total_micro: Fraction
    is_sure: bool = True

    @property
    def lines(self) -> tuple[Line, ...]:
        return tuple(line for part in self.parts for line in part.lines)


def compute_carriage(lines: Iterable[Line], terms: Mapping[int, Terms]) -> dict[int, int] | None:
    """Carriage of each supplier's parcel; None where one is below that supplier's least order."""
    parcels: dict[int, tuple[int, int]] = {}
    for line in lines:
        price_micro, weight_mg = parcels.get(line.pack.supplier, (0, 0))
        parcels[line.pack.supplier] = price_micro + line.price_micro, weight_mg + line.weight_mg
    if any(price_micro < terms[supplier].least_micro for supplier, (price_micro, _) in parcels.items()):
        return None
    return {supplier: terms[supplier].carriage_micro(*parcel) for supplier, parcel in parcels.items()}


def lowest_rate(packs: Iterable[Pack]) -> Fraction:
    """The least that anybody asks for a small unit, in millionths; 0 where nobody offers it."""
    return min(
        (Fraction(price, pack.quantity) for pack in packs for _, price in pack.prices), default=Fraction(0)
    )


def make_part(
    need: Need, lines: tuple[Line, ...], terms: Mapping[int, Terms], ahead: Ahead, lowest: Fraction
) -> Part:
    """What lines of one material come to, `lowest` being the least that anybody asks for a small unit of it."""
    goods = sum(line.price_micro for line in lines)
    duty = sum(
        (Fraction(line.price_micro * terms[line.pack.supplier].duty_pct100, PCT100_WHOLE) for line in lines),
        Fraction(0),
    )
    quantity = sum(line.quantity for line in lines)
    used = _use_in_time(need, lines)
    left = max(used - need.taken, Fraction(0))
    return Part(
        need,
        lines,
        goods,
        duty,
        _hold(need, quantity, goods + duty, ahead),
        used,
        quantity - used,
        left,
        left * lowest,
    )


def _use_in_time(need: Need, lines: Sequence[Line]) -> Fraction:
    """What is used before it is out of date, when what ends first is used first."""
    used = Fraction(0)
    for line in sorted(lines, key=lambda line: (line.pack.keeps_days is None, line.pack.keeps_days or 0)):
        days = line.pack.keeps_days
        room = line.quantity if days is None else need.a_day * days - need.still - used
        used += min(Fraction(line.quantity), max(Fraction(room), Fraction(0)))
    return used


def _hold(need: Need, quantity: int, value_micro: Fraction | int, ahead: Ahead) -> Fraction:
    """The cost of money in stock until each unit is used, or until the day ahead."""
    if not quantity or not ahead.holding_pct100:
        return Fraction(0)
    if need.a_day <= 0:
        days_held = Fraction(quantity * ahead.days)
    else:
        soon = min(max(need.a_day * ahead.days - need.still, Fraction(0)), Fraction(quantity))
        days_held = (
            soon * need.still / need.a_day + soon**2 / (2 * need.a_day) + (quantity - soon) * ahead.days
        )
    share = Fraction(ahead.holding_pct100, PCT100_WHOLE * DAYS_A_YEAR)
    return Fraction(value_micro) / quantity * days_held * share


def compute_cost_used(line: Line, terms: Terms, need: Need) -> Fraction | None:
    """Price, duty and carriage of one line ordered by itself for each small unit that is used in time; None of none."""
    used = _use_in_time(need, (line,))
    if not used:
        return None
    duty = Fraction(line.price_micro * terms.duty_pct100, PCT100_WHOLE)
    return (line.price_micro + duty + terms.carriage_micro(line.price_micro, line.weight_mg)) / used


@dataclass(frozen=True, slots=True)
class EconomicOrder:
    """The textbook's order: what each order should bring, and what ordering and holding then cost in a year."""

    quantity: Fraction
    yearly_micro: Fraction


def compute_economic_order(
    a_year: Fraction | int, order_micro: int, holding_micro: Fraction | int
) -> EconomicOrder:
    """Harris's square root: sqrt(2 D S / H), for a price that does not change and stock that keeps for ever.

    `order_micro` is what an order costs however large, `holding_micro` a small unit held for a year; both above 0.
    """
    square = Fraction(2 * a_year * order_micro) / holding_micro
    # Four digits more than are ever shown.
    digits = 10**6
    quantity = Fraction(isqrt(int(square * digits * digits)), digits)
    if not quantity:
        return EconomicOrder(Fraction(0), Fraction(0))
    return EconomicOrder(quantity, a_year / quantity * order_micro + quantity / 2 * holding_micro)
