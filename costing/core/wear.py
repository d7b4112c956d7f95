"""What a cast owes for the tools it wore, by the use and not by the year, and for the firing it shared.

Times are minutes, energy watt-hours, volumes thousandths of a millilitre, money millionths of the currency.
"""

from dataclasses import dataclass, replace

from inventory.core.energy import (
    KILN_WEAR,
    Energy,
    allocate_firing_cost,
    compute_energy_cost,
    cost_of_energy,
    share_firing_cost,
)
from studio.kit.printing import print_exact_money, print_money
from studio.kit.units import divide_half_up
from studio.kit.working import Given, Step, Working, make_working

WEAR_SOURCE = "units of production: OpenStax, Principles of Accounting vol. 1, 11.3"


def check_wear(price_micro: int, end_value_micro: int, life_uses: int) -> tuple[str, ...]:
    """Say what stops a tool's price, worth at the end and life from being used."""
    problems = []
    if life_uses < 1:
        problems.append("Say how many uses it lasts: 1 or more.")
    if end_value_micro > price_micro:
        problems.append("At the end it cannot be worth more than it cost: mend one of the two.")
    return tuple(problems)


def compute_worn_so_far(price_micro: int, end_value_micro: int, life_uses: int, uses: int) -> int:
    """What all uses up to now have cost, rounded once; it stops when only the value at the end is left."""
    counted = min(max(uses, 0), life_uses)
    return divide_half_up((price_micro - end_value_micro) * counted, life_uses)


def compute_wear_cost(
    price_micro: int, end_value_micro: int, life_uses: int, used_before: int, used_now: int
) -> int:
    """What is worn after some uses of a tool, less what was worn before them.

    So single uses add up exactly to price less end value, and use beyond the expected life costs nothing.
    """
    after_micro = compute_worn_so_far(price_micro, end_value_micro, life_uses, used_before + used_now)
    return after_micro - compute_worn_so_far(price_micro, end_value_micro, life_uses, used_before)


def compute_wear(
    price_micro: int, end_value_micro: int, life_uses: int, used_before: int, used_now: int
) -> tuple[int, Working]:
    """Cost of some uses of a tool, with its working. Raises ValueError for figures that check_wear refuses."""
    problems = check_wear(price_micro, end_value_micro, life_uses)
    if problems:
        raise ValueError(problems[0])
    after_micro = compute_worn_so_far(price_micro, end_value_micro, life_uses, used_before + used_now)
    cost_micro = compute_wear_cost(price_micro, end_value_micro, life_uses, used_before, used_now)
    worth_micro = price_micro - end_value_micro
    last = used_before + used_now
    beyond = last > life_uses
    after, before = print_exact_money(after_micro), print_exact_money(after_micro - cost_micro)
    working = make_working(
        "Wear",
        "the price less the worth at the end, divided by the uses it lasts, for each use",
        Given("price", print_money(price_micro), "what it cost"),
        Given("worth at the end", print_money(end_value_micro), "its own page"),
        Given("uses it lasts", f"{life_uses:,}", "its own page"),
        Given("uses before", f"{used_before:,}", "counted from the casts"),
        Given("uses now", f"{used_now:,}", "this cast"),
        Step(
            f"one use: {print_money(worth_micro)} ÷ {life_uses:,}",
            print_exact_money(divide_half_up(worth_micro, life_uses)),
        ),
        Step(f"worn after use {last:,}: {_say_worn(worth_micro, last, life_uses)}", after),
        Step(
            f"worn before, after use {used_before:,}: {_say_worn(worth_micro, used_before, life_uses)}",
            before,
        ),
        Step(f"{after} − {before}", print_exact_money(cost_micro)),
        result=print_money(cost_micro, 4),
        source=WEAR_SOURCE,
        notes=("It has outlived the uses it was given: no more is charged for it.",) if beyond else (),
    )
    return cost_micro, working


def _say_worn(worth_micro: int, uses: int, life_uses: int) -> str:
    return f"{print_money(worth_micro)} × {min(uses, life_uses):,} ÷ {life_uses:,}"


@dataclass(frozen=True, slots=True)
class ToolUse:
    """One use of a kiln, flask, crucible, machine or pump; life and use in the same unit."""

    label: str
    unit: str
    price_micro: int
    end_value_micro: int
    life_uses: int | None
    used_before: int
    used_now: int

    @property
    def wears(self) -> bool:
        """Whether its price and life are known, and it is worth less at the end than it cost."""
        return bool(self.life_uses) and self.price_micro > self.end_value_micro

    @property
    def cost_micro(self) -> int:
        return compute_wear_cost(*self._sum)

    @property
    def working(self) -> Working:
        _, working = compute_wear(*self._sum)
        return replace(working, title=f"Wear of {self.label} ({self.unit})")

    @property
    def _sum(self) -> tuple[int, int, int, int, int]:
        life_uses = self.life_uses or 0
        return self.price_micro, self.end_value_micro, life_uses, self.used_before, self.used_now


@dataclass(frozen=True, slots=True)
class FiringUse:
    """The firing of a cast, and the flasks in it; `which` is the place of the cast's own flask."""

    energy: Energy
    energy_micro_per_kwh: int
    kiln: ToolUse
    flask_volumes_ul: tuple[int, ...]
    which: int

    @property
    def energy_shares_micro(self) -> list[int]:
        cost_micro = cost_of_energy(self.energy.energy_wh, self.energy_micro_per_kwh)
        return share_firing_cost(cost_micro, self.flask_volumes_ul)

    @property
    def kiln_shares_micro(self) -> list[int]:
        return share_firing_cost(self.kiln.cost_micro, self.flask_volumes_ul)


Wear = tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class CastUse:
    """What one cast used of the firing it shared and of its own tools. Workings are made when asked for."""

    firing: FiringUse | None = None
    tools: tuple[ToolUse, ...] = ()

    @property
    def energy_micro(self) -> int:
        return self.firing.energy_shares_micro[self.firing.which] if self.firing else 0

    @property
    def wear(self) -> Wear:
        """(label, cost) of the kiln and of each tool whose price and life are known."""
        kiln: Wear = ()
        if self.firing and self.firing.kiln.wears:
            kiln = ((self.firing.kiln.label, self.firing.kiln_shares_micro[self.firing.which]),)
        return kiln + tuple((tool.label, tool.cost_micro) for tool in self.tools if tool.wears)

    @property
    def workings(self) -> tuple[Working, ...]:
        firing = _work_firing(self.firing) if self.firing else ()
        return firing + tuple(tool.working for tool in self.tools if tool.wears)


def _work_firing(firing: FiringUse) -> tuple[Working, ...]:
    energy, volumes, which = firing.energy, firing.flask_volumes_ul, firing.which
    cost_micro, costed = compute_energy_cost(energy.energy_wh, firing.energy_micro_per_kwh)
    _, shared = allocate_firing_cost(cost_micro, volumes, which)
    workings = [costed, shared]
    if energy.working is not None:
        workings.insert(0, energy.working)
    if firing.kiln.wears:
        _, share = allocate_firing_cost(firing.kiln.cost_micro, volumes, which, KILN_WEAR)
        workings += [firing.kiln.working, share]
    return tuple(workings)
