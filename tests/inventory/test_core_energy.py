"""Energy of a firing, its cost, and each flask's share."""

import pytest

from inventory.core.energy import (
    KILN_WEAR,
    allocate_firing_cost,
    compute_energy_cost,
    compute_energy_from_meter,
    compute_energy_from_rating,
)


def test_a_meter_is_read_before_and_after():
    energy = compute_energy_from_meter(1_204_300, 1_216_700)
    assert energy.energy_wh == 12_400
    assert energy.working.result == "12.4\u00a0kWh"


def test_a_meter_that_runs_backwards_is_refused_with_both_readings():
    energy = compute_energy_from_meter(1_216_700, 1_204_300)
    assert energy.energy_wh == 0
    assert "1,204.3" in energy.problem
    assert "1,216.7" in energy.problem


def test_a_kiln_that_heats_half_the_time_uses_half():
    assert compute_energy_from_rating(2_400, 10 * 60, on_pct100=5_000).energy_wh == 12_000


def test_a_kiln_that_never_ran_used_nothing():
    assert compute_energy_from_rating(2_400, 0, on_pct100=5_000).energy_wh == 0


def test_energy_cost_is_rounded_once():
    assert compute_energy_cost(1, 285_500)[0] == 286


def test_flasks_share_a_firing_by_volume_to_the_last_unit():
    shares, working = allocate_firing_cost(1_000_000, [100_000, 100_000, 100_000], 2)
    assert sum(shares) == 1_000_000
    assert shares == [333_334, 333_333, 333_333]
    assert working.result == "0.3333"


def test_a_flask_of_unknown_volume_makes_all_count_alike_and_the_working_says_so():
    shares, working = allocate_firing_cost(900, [100_000, 0, 300_000], 0)
    assert shares == [300, 300, 300]
    assert "count alike" in working.notes[0]


def test_a_firing_with_no_flask_shares_with_nobody():
    with pytest.raises(ValueError, match="nobody"):
        allocate_firing_cost(900, [], 0)


def test_the_kilns_wear_is_shared_under_its_own_name():
    _, working = allocate_firing_cost(900, [100_000, 300_000], 0, KILN_WEAR)
    said = " ".join(
        [working.title, working.formula, *(f"{one.label} {one.origin}" for one in working.givens)]
    )
    assert "wear" in said
    assert "energy" not in said
