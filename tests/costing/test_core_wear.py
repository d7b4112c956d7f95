"""Wear: each use pays its part, all uses together pay the whole and no more."""

import pytest

from costing.core.wear import check_wear, compute_wear, compute_worn_so_far


def test_single_uses_add_up_to_the_price_less_the_worth_at_the_end():
    uses = [compute_wear(10_000_000, 1_000_000, 7, before, 1)[0] for before in range(7)]
    assert sum(uses) == 9_000_000
    assert max(uses) - min(uses) == 1


def test_use_beyond_the_expected_life_costs_nothing_and_the_working_says_so():
    cost_micro, working = compute_wear(10_000_000, 0, 50, 50, 1)
    assert cost_micro == 0
    assert "outlived" in working.notes[0]


def test_the_last_use_may_be_counted_only_in_part():
    assert compute_wear(10_000_000, 0, 50, 49, 3)[0] == 200_000


def test_a_life_of_no_uses_and_a_worth_above_the_price_are_told():
    assert "1 or more" in check_wear(10, 0, 0)[0]
    assert "worth more than it cost" in check_wear(10, 11, 5)[0]
    with pytest.raises(ValueError, match="worth more"):
        compute_wear(10, 11, 5, 0, 1)


def test_a_tool_that_keeps_its_worth_costs_nothing():
    assert compute_wear(10_000_000, 10_000_000, 50, 3, 1)[0] == 0


def test_the_working_shows_what_one_use_costs():
    _, working = compute_wear(10_000_000_000, 1_000_000_000, 100_000, 12, 1)
    assert working.steps[0].result == "0.09"
    assert working.steps[1].text == "worn after use 13: 9,000.00 × 13 ÷ 100,000"
    assert working.result == "0.0900"


def test_a_life_that_ends_with_this_use_is_not_outlived():
    cost_micro, working = compute_wear(10_000_000, 0, 50, 49, 1)
    assert cost_micro == 200_000
    assert working.notes == ()
    assert compute_wear(10_000_000, 0, 50, 49, 2)[1].notes != ()


def test_a_tool_for_one_use_and_one_that_keeps_its_price_may_be():
    assert check_wear(10, 10, 1) == ()
    assert compute_wear(10, 0, 1, 0, 1)[0] == 10


def test_uses_below_zero_wear_nothing():
    assert compute_worn_so_far(10_000_000, 0, 50, -1) == 0
