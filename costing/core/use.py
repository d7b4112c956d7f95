"""What a cast owes for the tools it wore and the firing it shared.

Times are minutes, energy watt-hours, volumes thousandths of a millilitre, money millionths of the currency.
"""

from dataclasses import dataclass, replace

from costing.core.wear import compute_wear, compute_wear_cost
from inventory.core.energy import (
    KILN_WEAR,
    Energy,
    allocate_firing_cost,
    compute_energy_cost,
    cost_of_energy,
    share_firing_cost,
)
from studio.kit.working import Working


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
