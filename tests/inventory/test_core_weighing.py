"""Whether a crucible's grams add up within what the scale can show."""

from decimal import Decimal

import pytest

from inventory.core.weighing import Verdict, compute_balance, compute_weighing_uncertainty

SIX_AT_A_HUNDREDTH = compute_weighing_uncertainty(10, 6)


def test_the_tolerance_is_rounded_up_to_a_whole_milligram():
    assert SIX_AT_A_HUNDREDTH.expanded_mg < 29
    assert SIX_AT_A_HUNDREDTH.tolerance_mg == 29


def test_a_tolerance_that_is_whole_already_stays():
    assert compute_weighing_uncertainty(10, 3).tolerance_mg == 20
    assert compute_weighing_uncertainty(10, 3).expanded_mg == Decimal(20)


# 10 mg / sqrt(3) = 5.774 mg, times sqrt(7) = 15.275 mg, times 2 = 30.55 mg; computed.
def test_the_working_shows_the_roots_and_each_weighing():
    working = compute_weighing_uncertainty(10, 7).working
    assert [(step.text.replace("\u00a0", " "), step.result) for step in working.steps] == [
        ("one weighing: 0.01 g ÷ 1.732051", "0.005774\u00a0g"),
        ("all 7: 0.01 g × 2.645751 ÷ 1.732051", "0.015275\u00a0g"),
        ("rounded up to the milligram: 2 × 0.015275 g", "0.031\u00a0g"),
    ]
    whole = compute_weighing_uncertainty(1_000, 12).working
    assert whole.steps[1].result == "2.0000\u00a0g"


def test_a_scale_that_is_never_wrong_has_no_tolerance():
    assert compute_weighing_uncertainty(0, 6).tolerance_mg == 0


def test_a_scale_with_a_division_below_zero_is_a_mistake_in_the_program():
    with pytest.raises(ValueError, match="below zero"):
        compute_weighing_uncertainty(-1, 6)
    with pytest.raises(ValueError, match="below zero"):
        compute_weighing_uncertainty(10, -1)
    assert compute_weighing_uncertainty(10, 0).tolerance_mg == 0


@pytest.mark.parametrize(
    ("lost_mg", "verdict"),
    [
        (30, Verdict.LOST),
        (29, Verdict.BALANCED),
        (0, Verdict.BALANCED),
        (-29, Verdict.BALANCED),
        (-30, Verdict.MORE_OUT),
    ],
)
def test_a_difference_is_judged_against_the_tolerance(lost_mg, verdict):
    balance = compute_balance(100_000, 40_000, 59_000 - lost_mg, 1_000, SIX_AT_A_HUNDREDTH)
    assert balance.lost_mg == lost_mg
    assert balance.verdict is verdict


def test_an_empty_crucible_has_no_percentages():
    balance = compute_balance(0, 0, 0, 0, SIX_AT_A_HUNDREDTH)
    assert balance.lost_of_charge_pct100 is None
    assert balance.yield_pct100 is None
    assert balance.verdict is Verdict.BALANCED


def test_the_working_of_a_balance_says_what_was_lost_and_what_that_means():
    working = compute_balance(100_000, 37_440, 61_800, 0, SIX_AT_A_HUNDREDTH).working
    assert working.result == "0.76\u00a0g: lost"
    assert "really gone" in working.notes[0]


def test_more_out_than_in_asks_for_another_weighing():
    working = compute_balance(100_000, 40_000, 61_000, 0, SIX_AT_A_HUNDREDTH).working
    assert "Weigh again" in working.notes[0]
