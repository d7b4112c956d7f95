"""What a cast owes for the tools it wore and the firing it shared.

Times are minutes, energy watt-hours, volumes thousandths of a millilitre, money millionths of the currency.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from costing.core.wear import compute_wear
from inventory.core.energy import (
    allocate_firing_cost,
    compute_energy_cost,
    compute_energy_from_meter,
    compute_energy_from_rating,
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


@dataclass(frozen=True, slots=True)
class FiringUse:
    """The firing of a cast, and the flasks in it; `which` is the place of the cast's own flask."""

    minutes: int
    meter_wh: tuple[int | None, int | None]
    rated_w: int | None
    share_on_pct100: int | None
    energy_micro_per_kwh: int
    kiln: ToolUse
    flask_volumes_ul: tuple[int, ...]
    which: int


Wear = tuple[tuple[str, int], ...]


def wear_of_tools(uses: Sequence[ToolUse]) -> tuple[Wear, tuple[Working, ...]]:
    """(label, cost) of each tool whose price and life are known, and the workings."""
    wear, workings = [], []
    for use in uses:
        if not use.life_uses or use.price_micro <= use.end_value_micro:
            continue
        cost_micro, working = compute_wear(
            use.price_micro, use.end_value_micro, use.life_uses, use.used_before, use.used_now
        )
        wear.append((use.label, cost_micro))
        workings.append(replace(working, title=f"Wear of {use.label} ({use.unit})"))
    return tuple(wear), tuple(workings)


def energy_of_firing(firing: FiringUse) -> tuple[int, Working | None]:
    """Watt-hours of the whole firing: by the meter if it was read, else by rating; 0 when neither is known."""
    before, after = firing.meter_wh
    if before is not None and after is not None:
        energy = compute_energy_from_meter(before, after)
    elif firing.rated_w and firing.share_on_pct100:
        energy = compute_energy_from_rating(firing.rated_w, firing.minutes, firing.share_on_pct100)
    else:
        return 0, None
    return energy.energy_wh, energy.working


def cost_firing(firing: FiringUse) -> tuple[int, Wear, tuple[Working, ...]]:
    """A cast's share of the energy of its firing and of the wear of the kiln, with the workings."""
    energy_wh, measured = energy_of_firing(firing)
    cost_micro, costed = compute_energy_cost(energy_wh, firing.energy_micro_per_kwh)
    shares, shared = allocate_firing_cost(cost_micro, firing.flask_volumes_ul, firing.which)
    workings = [working for working in (measured, costed, shared) if working is not None]
    kiln_wear, kiln_workings = wear_of_tools([firing.kiln])
    wear: Wear = ()
    for label, amount in kiln_wear:
        kiln_shares, share_working = allocate_firing_cost(amount, firing.flask_volumes_ul, firing.which)
        wear = ((label, kiln_shares[firing.which]),)
        workings += [*kiln_workings, replace(share_working, title="This flask's share of the kiln's wear")]
    return shares[firing.which], wear, tuple(workings)
