"""The charge for a tree: what past casts lost is a share of the charge, not of the metal needed."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from inventory.core.tree import PastLoss, compute_metal_to_charge


def test_a_tenth_lost_of_every_charge_takes_a_ninth_more_than_is_needed():
    """90 g needed and 10 % lost of the charge: 90 / 0.9 = 100 g; arithmetic."""
    charge_mg, loss_mg, working = compute_metal_to_charge(90_000, PastLoss(3, 600_000, 60_000), 10)
    assert (charge_mg, loss_mg) == (100_000, 10_000)
    step = working.steps[0]
    assert step.text.replace("\u00a0", " ") == "90.00 g × 600.00 g ÷ (600.00 g − 60.00 g)"
    assert step.result == "100.00\u00a0g"


def test_the_step_of_the_scale_goes_up_from_the_exact_figure():
    """50 g needed, 1 of 3 lost: 75 g exactly; and 50.001 g needed go up to the next hundredth."""
    third = PastLoss(1, 3_000, 1_000)
    assert compute_metal_to_charge(50_000, third, 10)[0] == 75_000
    assert compute_metal_to_charge(50_001, third, 10)[0] == 75_010


def test_without_a_past_cast_or_with_all_lost_nothing_is_added():
    for past in (PastLoss(), PastLoss(1, 1_000, 1_000)):
        charge_mg, loss_mg, working = compute_metal_to_charge(10_000, past, 10)
        assert (charge_mg, loss_mg) == (10_000, 0)
        assert working.notes
        assert [step.text for step in working.steps] == ["up to the next step of the scale"]
        assert [given.label for given in working.givens] == ["metal needed", "step of the scale"]


@given(
    st.integers(0, 10**6), st.integers(1, 10**6), st.integers(-(10**3), 10**6), st.sampled_from([1, 10, 100])
)
def test_what_is_left_of_the_charge_is_at_least_what_is_needed(needed_mg, charged_mg, lost_mg, step_mg):
    past = PastLoss(1, charged_mg, min(lost_mg, charged_mg - 1))
    charge_mg, _, _ = compute_metal_to_charge(needed_mg, past, step_mg)
    kept = 1 - Fraction(max(past.lost_mg, 0), charged_mg)
    assert charge_mg * kept >= needed_mg
    assert (charge_mg - step_mg) * kept < needed_mg
