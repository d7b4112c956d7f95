"""How much clean reclaim the next charge may take."""

from dataclasses import replace
from fractions import Fraction

import pytest

from inventory.core.charge import ChargeRules
from inventory.core.reclaim import Bound, MetalLot, compute_reclaim_allowance
from tests.support import plain

HALF_FRESH = ChargeRules(least_fresh_pct100=5_000, most_melts_milli=4_000)
GRAIN = MetalLot(1, "grain", 200_000, is_fresh=True)
BUTTONS = MetalLot(2, "buttons", 150_000, melts_milli=1_500)
FILINGS = MetalLot(3, "filings", 20_000, melts_milli=1_000, is_clean=False)


def test_a_usual_charge_takes_half_of_itself_as_reclaim():
    allowance = compute_reclaim_allowance([GRAIN, BUTTONS], HALF_FRESH, [180_000, 200_000])
    assert allowance.charge_mg == 190_000
    assert allowance.may_take_mg == 95_000
    assert allowance.bound is Bound.CHARGE


def test_little_fresh_metal_takes_little_reclaim_with_it():
    grain = MetalLot(1, "grain", 40_000, is_fresh=True)
    allowance = compute_reclaim_allowance([grain, BUTTONS], HALF_FRESH, [180_000])
    assert allowance.may_take_mg == 40_000
    assert allowance.bound is Bound.FRESH


def test_all_reclaim_goes_in_where_there_is_little():
    buttons = MetalLot(2, "buttons", 30_000, melts_milli=1_500)
    allowance = compute_reclaim_allowance([GRAIN, buttons], HALF_FRESH, [180_000])
    assert allowance.may_take_mg == allowance.usable_mg == 30_000
    assert allowance.bound is Bound.ON_HAND


@pytest.mark.parametrize(("melts_milli", "left_out"), [(3_999, ()), (4_000, (4,)), (5_000, (4,))])
def test_metal_at_the_limit_of_melts_is_left_out(melts_milli, left_out):
    tired = MetalLot(4, "old buttons", 50_000, melts_milli=melts_milli)
    allowance = compute_reclaim_allowance([GRAIN, tired], HALF_FRESH, [180_000])
    assert allowance.left_out == left_out
    assert allowance.on_hand_mg == 50_000
    assert allowance.may_take_mg == (0 if left_out else 50_000)


def test_metal_melted_too_often_is_named_as_what_binds():
    tired = MetalLot(4, "old buttons", 50_000, melts_milli=4_000)
    few = MetalLot(2, "buttons", 30_000, melts_milli=1_000)
    assert compute_reclaim_allowance([GRAIN, tired, few], HALF_FRESH, [180_000]).bound is Bound.MELTS


def test_no_limit_of_melts_leaves_nothing_out():
    rules = ChargeRules(least_fresh_pct100=5_000)
    tired = MetalLot(4, "old buttons", 50_000, melts_milli=99_000)
    assert compute_reclaim_allowance([GRAIN, tired], rules, []).left_out == ()


def test_without_a_charge_yet_the_fresh_metal_sets_the_limit_and_the_working_says_so():
    buttons = MetalLot(2, "buttons", 500_000, melts_milli=1_000)
    allowance = compute_reclaim_allowance([GRAIN, buttons], HALF_FRESH, [])
    assert allowance.charge_mg is None
    assert allowance.may_take_mg == 200_000
    assert "No charge was poured yet" in allowance.working.notes[1]


def test_filings_are_not_counted():
    allowance = compute_reclaim_allowance([GRAIN, FILINGS], HALF_FRESH, [180_000])
    assert allowance.on_hand_mg == 0
    assert "not counted" in allowance.working.notes[-1]


def test_a_studio_that_melts_only_fresh_metal_takes_no_reclaim():
    rules = ChargeRules(least_fresh_pct100=10_000)
    assert compute_reclaim_allowance([GRAIN, BUTTONS], rules, [180_000]).may_take_mg == 0


def test_a_studio_that_asks_for_no_fresh_metal_may_fill_the_charge():
    rules = ChargeRules(least_fresh_pct100=0)
    assert compute_reclaim_allowance([BUTTONS], rules, [100_000]).may_take_mg == 100_000
    assert compute_reclaim_allowance([BUTTONS], rules, []).may_take_mg == 150_000


def test_nothing_on_hand_allows_nothing():
    assert compute_reclaim_allowance([], HALF_FRESH, []).may_take_mg == 0


def test_the_fresh_share_is_kept_to_the_last_milligram():
    rules = ChargeRules(least_fresh_pct100=3_333)
    allowance = compute_reclaim_allowance([GRAIN, MetalLot(2, "buttons", 10**6)], rules, [])
    taken = allowance.may_take_mg
    assert Fraction(200_000, 200_000 + taken) >= Fraction(3_333, 10_000)
    assert Fraction(200_000, 200_001 + taken) < Fraction(3_333, 10_000)


def test_the_working_shows_the_lots_the_rules_and_the_charge():
    working = compute_reclaim_allowance([GRAIN, BUTTONS], HALF_FRESH, [180_000, 200_000]).working
    assert [given.label for given in working.givens] == [
        "grain, lot 1",
        "buttons, lot 2",
        "at least to be fresh",
        "at most",
        "a usual charge",
    ]
    assert working.givens[-1].origin == "the mean of the last 2 charges"
    assert working.result == "95.00\u00a0g"


def test_the_mean_of_the_charge_stays_below_the_limit_of_melts():
    """A quarter fresh, two melts at most, a tin at 1.9: 100 g may hold 100 x 1 / 1.9 = 52.63 g of it; by hand."""
    rules = ChargeRules(least_fresh_pct100=2_500, most_melts_milli=2_000)
    tin = MetalLot(2, "tin", 100_000, melts_milli=1_900)
    allowance = compute_reclaim_allowance([GRAIN, tin], rules, [100_000])
    assert allowance.may_take_mg == 52_631
    assert allowance.bound is Bound.MEAN
    said = [step.text.replace("\u00a0", " ") for step in allowance.working.steps]
    assert (
        "grams times melts in a usual charge, at a mean of 1 melt before the pour: 100.00 g × 1 melt" in said
    )
    assert "100 ÷ 1.9 melts" in said


def test_what_was_melted_least_goes_in_first():
    """40 g at 1.2 and then of 1.9: (100 x 1 - 48) / 1.9 = 27.368; by hand."""
    rules = ChargeRules(least_fresh_pct100=2_500, most_melts_milli=2_000)
    tins = [MetalLot(2, "tin", 100_000, melts_milli=1_900), MetalLot(3, "tin", 40_000, melts_milli=1_200)]
    assert compute_reclaim_allowance([GRAIN, *tins], rules, [100_000]).may_take_mg == 67_368


def test_beside_little_fresh_metal_the_mean_counts_too():
    """10 g of grain, three melts at most, a tin at 2.5: 10 x 2 / (2.5 - 2) = 40 g; by hand."""
    rules = ChargeRules(least_fresh_pct100=1_000, most_melts_milli=3_000)
    lots = [MetalLot(1, "grain", 10_000, is_fresh=True), MetalLot(2, "tin", 500_000, melts_milli=2_500)]
    allowance = compute_reclaim_allowance(lots, rules, [])
    assert (allowance.may_take_mg, allowance.bound) == (40_000, Bound.MEAN)


def test_lots_alike_to_a_tenth_of_a_melt_are_told_together():
    lots = [MetalLot(2, "tin", 10_000, melts_milli=1_510), MetalLot(3, "tin", 30_000, melts_milli=1_550)]
    given = compute_reclaim_allowance(lots, HALF_FRESH, []).working.givens[0]
    assert (given.label, given.value) == ("tin, 2 lots", "40.00\u00a0g, 1.54\u00a0melts")


def test_what_a_rule_allows_is_rounded_down_to_what_the_scale_can_tell():
    allowance = compute_reclaim_allowance([GRAIN, BUTTONS], HALF_FRESH, [101_532, 101_533], 10)
    assert allowance.charge_mg == 101_530
    assert allowance.may_take_mg == 50_760
    assert plain(allowance.working.result) == "50.76 g"
    assert [plain(step.result) for step in allowance.working.steps][-2:] == ["50.765 g", "50.76 g"]
    # Of a tin as much as can be weighed.
    buttons = MetalLot(2, "buttons", 30_003, melts_milli=1_000)
    assert compute_reclaim_allowance([GRAIN, buttons], HALF_FRESH, [180_000], 10).may_take_mg == 30_000


def test_what_plans_hold_is_no_ones_to_take():
    """Of 150 g a plan holds 120.5 g, and of 200 g of grain 180 g: 29.5 g beside 20 g of grain; by hand."""
    lots = [replace(GRAIN, promised_mg=180_000), replace(BUTTONS, promised_mg=120_500)]
    allowance = compute_reclaim_allowance(lots, HALF_FRESH, [180_000])
    assert (allowance.on_hand_mg, allowance.usable_mg) == (150_000, 29_500)
    assert (allowance.may_take_mg, allowance.bound) == (20_000, Bound.FRESH)
    assert allowance.is_short and allowance.fresh_needed_mg == 90_000
