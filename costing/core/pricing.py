"""A thing's price through a channel, what is left of what is asked, and its floor: the parts of a price put together.

Money is millionths of the currency.
"""

from dataclasses import dataclass, replace

from costing.core.channel import Fees, Kept, Solved, compute_kept, solve_price
from costing.core.floor import find_highest_metal
from costing.core.lines import compute_value_at_rate
from costing.core.metal_price import AlloyPrice
from costing.core.price import PriceRule
from costing.core.wanted import CostParts, Wanted, compute_wanted
from studio.kit.printing import print_exact_money, print_mass, print_money
from studio.kit.working import Given, Step, Working, make_working


@dataclass(frozen=True, slots=True)
class PricedBy:
    """A channel with the rule that says what it should leave; `key` is that of its record, None for none."""

    fees: Fees
    rule: PriceRule
    key: int | None = None

    @property
    def label(self) -> str:
        return self.fees.label


@dataclass(frozen=True, slots=True)
class ChannelPrice:
    """What a channel's rule says now, and what is left of what is asked; the sentence where it says nothing."""

    way: PricedBy
    wanted: Wanted
    solved: Solved
    asked: Kept | None

    @property
    def kept(self) -> Kept | None:
        return self.solved.kept

    @property
    def problem(self) -> str:
        return self.wanted.problem or self.solved.problem

    def over_micro(self, kept: Kept | None) -> int | None:
        """What a price leaves over the cost as the rule counts it."""
        return None if kept is None or self.problem else kept.over_micro(self.wanted.cost_micro)

    @property
    def left_micro(self) -> int | None:
        return self.over_micro(self.kept)

    @property
    def asked_left_micro(self) -> int | None:
        return self.over_micro(self.asked)

    @property
    def workings(self) -> list[Working]:
        cost_micro = self.wanted.cost_micro
        made = [self.wanted.working] if not self.wanted.problem else []
        made += [self.solved.working] if self.solved.working else []
        told = {kept.told_micro: kept for kept in (self.kept, self.asked) if kept is not None}
        return made + ([kept.work(cost_micro) for kept in told.values()] if not self.problem else [])


def price_through(
    parts: CostParts, way: PricedBy, failed_pct100: int, asked_micro: int | None = None
) -> ChannelPrice:
    """The price that leaves what the channel's rule wants, and what is left there of a price that is asked."""
    wanted = compute_wanted(parts, way.rule, failed_pct100)
    solved = (
        Solved()
        if wanted.problem
        else solve_price(wanted.micro, way.fees, way.rule.step_micro, way.rule.rounding)
    )
    asked = None if asked_micro is None else compute_kept(asked_micro, way.fees)
    return ChannelPrice(way, wanted, solved, asked)


@dataclass(frozen=True, slots=True)
class Floor:
    """What must at least be left of what is asked for a thing, and how far its metal may rise.

    `highest_micro` is the highest price of its metal, in the unit in which it is told, at which that still is; None
    where no price of metal changes it, -1 where it is under its floor whatever metal costs.
    """

    wanted: Wanted
    kept: Kept
    price: AlloyPrice | None
    metal_mg: int
    highest_micro: int | None

    @property
    def is_under(self) -> bool:
        return not self.wanted.problem and self.kept.left_micro < self.wanted.micro

    @property
    def highest_words(self) -> str:
        """ "31.2045 per ozt" """
        if self.highest_micro is None or self.highest_micro < 0 or self.price is None:
            return ""
        return f"{print_exact_money(self.highest_micro)} per {self.price.quoted.per_unit}"

    @property
    def working(self) -> Working:
        """Its floor at today's metal, and at the highest price of metal."""
        left, least = print_money(self.kept.left_micro, 4), print_money(self.wanted.micro, 4)
        lines: list[Given | Step] = [
            Given("left of what is asked", left, self.kept.fees.label),
            Given("at least to be left", least, self.wanted.rule.label),
            Given("metal in it and lost on it", print_mass(self.metal_mg), "the cost of the piece"),
        ]
        notes = []
        if self.highest_words and self.price and self.highest_micro is not None:
            for micro in (self.highest_micro, self.highest_micro + _STEP_MICRO):
                at = f"{print_exact_money(micro)} per {self.price.quoted.per_unit}"
                rate = self.price.at(micro)
                again = at_metal(self.wanted.parts, self.metal_mg, rate)
                least_then = compute_wanted(again, self.wanted.rule, self.wanted.failed_pct100)
                lines.append(Step(f"metal at {at}: at least to be left", print_money(least_then.micro, 4)))
        else:
            notes.append("No price of metal changes this.")
        under = "so it is under its floor" if self.is_under else "so it is not under its floor"
        return make_working(
            "The floor of what is asked",
            "what is asked, less tax and fees, must leave what the floor's rule wants with metal bought again",
            *lines,
            result=under,
            source=self.wanted.working.source,
            notes=notes,
        )


_STEP_MICRO = 100


def at_metal(parts: CostParts, metal_mg: int, micro_per_kg: int) -> CostParts:
    """The same with metal bought again at another price."""
    return replace(parts, today_micro=compute_value_at_rate(metal_mg, micro_per_kg))


def find_floor(
    parts: CostParts,
    metal_mg: int,
    price: AlloyPrice | None,
    asked: Kept,
    rule: PriceRule,
    failed_pct100: int,
    seeks_metal: bool = True,
) -> Floor:
    """Whether what is asked leaves what the floor's rule wants, and up to which price of metal it would.

    That price is found on four decimals by trying: it is the last at which the same sum says yes.
    """
    wanted = compute_wanted(parts, rule, failed_pct100)

    def holds_at(micro: int) -> bool:
        assert price is not None  # noqa: S101 - asked only where there is one
        again = at_metal(parts, metal_mg, price.at(micro))
        return asked.left_micro >= compute_wanted(again, rule, failed_pct100).micro

    can_seek = seeks_metal and price is not None and parts.today_micro is not None and not wanted.problem
    return Floor(
        wanted, asked, price, metal_mg, find_highest_metal(holds_at, _STEP_MICRO) if can_seek else None
    )
