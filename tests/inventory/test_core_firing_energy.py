"""Energy of a schedule before it is fired, and what the studio's own meter makes of it."""

import pytest

from inventory.core.energy import (
    HeatedPart,
    MeasuredSums,
    compute_correction,
    compute_energy_by_steps,
    correct_energy,
    list_heated_parts,
)
from inventory.core.schedule import ScheduleStep

STEPS = (
    ScheduleStep(150, climb_minutes=60, hold_minutes=120),
    ScheduleStep(750, climb_minutes=240, hold_minutes=180),
    ScheduleStep(600, climb_minutes=60, hold_minutes=60),
)
PARTS = list_heated_parts(STEPS, [3_000, 7_000, 2_000])


def test_each_step_has_the_minutes_of_its_climb_and_hold():
    assert [part.minutes for part in PARTS] == [180, 420, 120]


def test_each_step_heats_its_own_share_of_the_time():
    energy = compute_energy_by_steps(2_400, PARTS)
    assert energy.energy_wh == 2_160 + 11_760 + 960
    assert [step.result.replace("\u00a0", " ") for step in energy.working.steps] == [
        "2.16 kWh", "11.76 kWh", "0.96 kWh", "14.88 kWh",
    ]  # fmt: skip


def test_a_step_without_a_share_is_the_programs_mistake():
    with pytest.raises(ValueError, match="its share"):
        list_heated_parts(STEPS, [5_000])


def test_the_correction_is_the_sum_measured_over_the_sum_estimated():
    correction = compute_correction(MeasuredSums(3, 10 + 60 + 50, 10 + 40 + 50))
    assert correction.factor_pct100 == 12_000
    assert correction.working.result == "120\u00a0%"


def test_two_firings_are_too_few_to_correct_by():
    correction = compute_correction(MeasuredSums(2, 20, 40))
    assert correction.factor_pct100 is None
    assert correction.sentence.startswith("2 of 3 firings have a meter reading so far.")


@pytest.mark.parametrize(("measured_wh", "factor"), [(1, 2_500), (100_000, 40_000)])
def test_a_correction_no_kiln_explains_is_bounded_and_says_so(measured_wh, factor):
    correction = compute_correction(MeasuredSums(3, 3 * measured_wh, 3_000))
    assert correction.factor_pct100 == factor
    assert "Look at the readings" in correction.sentence


def test_the_estimate_is_put_right_by_the_meter_and_shows_it():
    correction = compute_correction(MeasuredSums(3, 33_000, 30_000))
    energy = correct_energy(compute_energy_by_steps(2_400, PARTS), correction)
    assert energy.energy_wh == 16_368
    assert energy.working.result == "16.368\u00a0kWh"
    assert "110\u00a0%" in energy.working.steps[-1].text


def test_an_estimate_stays_while_there_are_too_few_firings():
    estimate = compute_energy_by_steps(1_000, [HeatedPart("all", 60, 10_000)])
    assert correct_energy(estimate, compute_correction(MeasuredSums())) is estimate
