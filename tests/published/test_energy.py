"""Energy and its cost, against a public worked example."""

from inventory.core.energy import (
    HeatedPart,
    compute_energy_by_steps,
    compute_energy_cost,
    compute_energy_from_rating,
)
from studio.kit.units import MICRO_PER_UNIT


def test_two_hundred_watts_four_hours_a_day_for_120_days():
    """US DOE, Estimating Appliance and Home Electronic Energy Use; read: 96 kWh; at 0.085, 8.16."""
    energy = compute_energy_from_rating(200, 4 * 120 * 60, on_pct100=10_000)
    assert energy.energy_wh == 96_000
    cost_micro, _ = compute_energy_cost(energy.energy_wh, 85_000)
    assert cost_micro == 8.16 * MICRO_PER_UNIT


def test_the_same_day_by_day():
    """The same source; read: 4 hours on each of 120 days, added up as the steps of a firing are."""
    days = [HeatedPart(f"day {day}", 4 * 60, 10_000) for day in range(1, 121)]
    energy = compute_energy_by_steps(200, days)
    assert energy.energy_wh == 96_000
    assert compute_energy_cost(energy.energy_wh, 85_000)[0] == 8_160_000
