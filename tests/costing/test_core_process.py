"""Normal and abnormal loss of a melt."""

import pytest

from costing.core.process import (
    Melt,
    compute_abnormal_value,
    compute_normal_loss,
    compute_process_account,
)


def test_a_loss_within_what_is_normal_is_all_normal():
    assert compute_normal_loss(180_000, 1_350, 100) == (1_350, 0)


def test_a_loss_beyond_what_is_normal_is_abnormal_for_the_rest():
    assert compute_normal_loss(180_000, 2_000, 100) == (1_800, 200)


def test_a_loss_below_zero_is_the_scale_and_normal():
    assert compute_normal_loss(180_000, -20, 100) == (-20, 0)
    assert compute_normal_loss(180_000, -20, 0) == (-20, 0)


def test_no_abnormal_loss_has_no_value():
    assert compute_abnormal_value(1_000_000, 100, 0) == 0


def test_with_no_normal_loss_an_abnormal_gram_costs_just_what_it_cost():
    account = compute_process_account(Melt(100_000, 100_000_000, 90_000, normal_pct100=0))
    assert account.abnormal_micro == 10_000_000


def test_everything_that_went_in_is_somewhere():
    melt = Melt(
        130_000,
        107_000_001,
        67_000,
        back_mg=60_000,
        normal_pct100=100,
        scrap_micro_per_kg=300_000_000,
    )
    account = compute_process_account(melt)
    parts = (account.good_micro, account.abnormal_micro, account.back_micro, account.scrap_micro)
    assert sum(parts) == 107_000_001


def test_a_melt_that_came_back_whole_has_nothing_to_carry_its_cost():
    with pytest.raises(ValueError, match="carry the cost"):
        compute_process_account(Melt(100_000, 50_000_000, 0, back_mg=100_000))


def test_the_working_ends_in_the_good_castings():
    account = compute_process_account(Melt(130_000, 107_000_000, 68_000, back_mg=60_000))
    assert account.working.result == "57.6154"
    assert account.working.steps[-1].result == account.working.result
