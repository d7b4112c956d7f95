"""What to ask for one piece: by each channel, beside what is asked, and how far its metal may rise."""

from dataclasses import dataclass
from functools import cached_property, partial

from costing.core.channel import compute_kept
from costing.core.metal_price import AlloyPrice
from costing.core.pricing import ChannelPrice, Floor, PricedBy, at_metal, find_floor, price_through
from costing.core.wanted import CostParts, work_failures
from costing.core.what_if import Basis, WhatIf, suppose
from costing.models import AskedPrice
from costing.queries.costed import CostedCast
from costing.queries.designs import CostedDesign
from costing.queries.pricing import PriceBook, basis_of
from inventory.models import Alloy
from studio.kit.chart_line import Scale, choose_step, line_chart
from studio.kit.chart_pen import Picture
from studio.kit.documents import Column, Filled, Table, fill_table
from studio.kit.printing import print_exact_money, print_money
from studio.kit.working import Working

from .lacks import Lack, find_lacks, say_unpaid

_POINTS = 12


@dataclass(frozen=True)
class PiecePrices:
    """One good piece of a costed cast with all that its price follows from; `other` is what is tried on the page."""

    costed: CostedCast
    place: int
    book: PriceBook
    asked: AskedPrice | None = None
    other: WhatIf = WhatIf()

    @cached_property
    def as_made(self) -> Basis:
        price = self.book.metals.get(self.costed.cast.alloy_id)
        return basis_of(self.costed, self.place, price, self.book.failures.failed_pct100)

    @cached_property
    def basis(self) -> Basis:
        return suppose(self.as_made, self.other)

    @property
    def parts(self) -> CostParts:
        return self.basis.parts

    @property
    def printed_micro(self) -> int:
        """What it cost, as the table of its cast shows it, where all pieces add up."""
        return self.costed.printed(self.book.usual.fees.unit_micro).piece_totals_micro[self.place]

    @property
    def price(self) -> AlloyPrice | None:
        """What its metal costs to buy again, or would."""
        return self.basis.price

    @property
    def alloy(self) -> Alloy:
        return self.costed.cast.alloy

    @property
    def old_words(self) -> str:
        return "" if self.other.price else self.book.say_old(self.price, self.costed.cast.alloy)

    @property
    def lacks(self) -> list[Lack]:
        """What its cost knows nothing of."""
        return find_lacks(self.costed, self.parts.bench_seconds)

    @property
    def unpaid(self) -> list[str]:
        """The same in sentences."""
        return say_unpaid(self.lacks)

    @cached_property
    def usual(self) -> ChannelPrice:
        return self._price_through(self.book.usual)

    @cached_property
    def channels(self) -> list[ChannelPrice]:
        return [self.usual, *map(self._price_through, self.book.ways[1:])]

    def _price_through(self, way: PricedBy) -> ChannelPrice:
        asked_micro = self.asked.price_micro if self.asked else None
        return price_through(self.parts, way, self.basis.failed_pct100, asked_micro)

    def find_floor(self, seeks_metal: bool = True) -> Floor | None:
        """None while nothing is asked for it."""
        if self.asked is None:
            return None
        # A list asks for hundreds of floors: the price that the rules say now is not worked out for them.
        kept = compute_kept(self.asked.price_micro, self.book.usual.fees)
        basis, rule = self.basis, self.book.floor
        return find_floor(
            basis.parts, basis.metal_mg, basis.price, kept, rule, basis.failed_pct100, seeks_metal
        )

    @cached_property
    def floor(self) -> Floor | None:
        return self.find_floor()

    @property
    def workings(self) -> list[Working]:
        made = [working for channel in self.channels for working in channel.workings]
        if self.price is not None and self.parts.today_micro is not None:
            made.append(self.price.working)
        if self.book.counts_failures:
            made.append(work_failures(self.book.failures, self.book.practice.failed_days))
        return [*made, self.floor.working] if self.floor and not self.floor.wanted.problem else made

    @property
    def problems(self) -> list[str]:
        return sorted({channel.problem for channel in self.channels if channel.problem})

    @property
    def picture(self) -> Picture | None:
        """The price through the usual channel over what its metal costs; None where that changes nothing."""
        price = self.price
        if price is None or self.parts.today_micro is None or self.usual.kept is None:
            return None
        points = [
            (micro, told)
            for micro in _spread(price.quoted.price_micro)
            if (told := self._price_at(micro)) is not None
        ]
        if len(points) < 2 or len({told for _, told in points}) < 2:
            return None
        what = f"Pure {price.metal}" if price.metal else str(self.costed.cast.alloy)
        unit = price.quoted.per_unit
        level = (
            (self.asked.price_micro, f"asked, {print_money(self.asked.price_micro)}") if self.asked else None
        )
        moves = f"{print_exact_money(points[0][0])} to {print_exact_money(points[-1][0])} per {unit}"
        ends = f"{print_money(points[0][1])} to {print_money(points[-1][1])}"
        said = f"With {what if not price.metal else what.lower()} at {moves}, the price is {ends}."
        return line_chart(
            points,
            Scale(f"{what}, per {unit}", print_exact_money),
            Scale(f"price, {self.usual.way.label}", partial(print_money, decimals=None)),
            "The price as its metal moves",
            said,
            now=price.quoted.price_micro,
            level=level,
        )

    def _price_at(self, micro: int) -> int | None:
        assert self.price is not None  # noqa: S101 - a picture is made only with one
        parts = at_metal(self.parts, self.basis.metal_mg, self.price.at(micro))
        kept = price_through(parts, self.usual.way, self.basis.failed_pct100).kept
        return None if kept is None else kept.told_micro


def _spread(now_micro: int) -> list[int]:
    """Prices of metal in round steps from half of today's to twice it, and today's itself among them."""
    step = choose_step(now_micro * 3 // 2, _POINTS)
    first, last = max(step, now_micro // 2 // step * step), now_micro * 2
    return sorted({now_micro, *range(first, last + step, step)})


def table_channels(prices: PiecePrices | CostedDesign, caption: str) -> Table:
    """Each channel with what its rule says now and what that leaves, and what is left there of what is asked."""
    rows = [channel for channel in prices.channels if not channel.problem]
    filled = [
        Filled(Column("channel", "Channel"), [row.way.label for row in rows]),
        Filled(
            Column("price", "Price now", "money", on_phone=True),
            [row.kept.told_micro if row.kept else None for row in rows],
        ),
        Filled(
            Column("left", "Leaves over the cost", "money", on_phone=True), [row.left_micro for row in rows]
        ),
    ]
    if prices.asked is not None:
        asked = Column("asked_left", "What is asked leaves", "money", on_phone=True)
        filled.append(Filled(asked, [row.asked_left_micro for row in rows]))
    return fill_table(caption, filled)
