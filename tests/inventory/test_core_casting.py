"""What to do next on a cast, and where its grams are."""

import pytest

from inventory.core.alloying import Portion
from inventory.core.casting import STEPS, Grams, find_next_step
from inventory.core.charge import ChargeRules, compute_charge
from inventory.core.control_chart import compute_control_limits, compute_family_limits, compute_usual_loss
from inventory.core.pieces import explain_piece_metal

STERLING = Portion("Lot 1, grain", 50_000, 46_250_000)
TIN = Portion("Lot 2, button", 50_000, 46_250_000, melts_milli=2000, is_fresh=False)
RULES = ChargeRules(per_mille=925, least_fresh_pct100=5000, most_melts_milli=4000)


def test_a_new_cast_begins_with_its_tree():
    assert find_next_step(set()) == "tree"


def test_the_next_step_is_the_one_after_the_last_that_is_done():
    assert find_next_step({"tree", "powder"}) == "firing"


def test_a_step_that_was_passed_over_is_not_asked_for_again():
    assert find_next_step({"charge"}) == "pour"


def test_nothing_is_left_to_do_when_the_weights_are_in():
    assert find_next_step(set(STEPS)) == ""


# Charge 180.00 = finished 82.60 + back 92.70 + filings 3.35 + lost 1.35: 0.75 % lost (computed, invented inputs).
def test_loss_and_yield_are_shares_of_the_charge():
    grams = Grams(180_000, 82_600, 92_700, 3_350, 1_350)
    assert (grams.lost_pct100, grams.yield_pct100) == (75, 4589)


def test_no_charge_has_no_share():
    assert Grams().lost_pct100 is None


def test_a_charge_of_half_fresh_sterling_reaches_its_mark():
    sums = compute_charge([STERLING, TIN], RULES)
    assert (sums.mass_mg, sums.fresh_pct100, sums.melts_milli) == (100_000, 5000, 2000)
    assert not sums.falls_short
    assert sums.remarks == ()


def test_rounding_of_a_microgram_a_portion_is_no_shortfall():
    one_short = Portion("Lot 3", 50_000, 46_249_999)
    assert not compute_charge([one_short, STERLING], RULES).falls_short
    two_short = Portion("Lot 3", 50_000, 46_249_997)
    assert compute_charge([two_short, STERLING], RULES).falls_short


def test_too_little_fresh_metal_and_too_many_melts_are_remarked_on():
    old = Portion("Lot 4", 90_000, 83_250_000, melts_milli=4000, is_fresh=False)
    fresh_word, melts_word = compute_charge([old, Portion("Lot 1", 10_000, 9_250_000)], RULES).remarks
    assert fresh_word.startswith("Only 10\u00a0% is fresh")
    assert "4.6\u00a0melts" in melts_word


def test_limits_that_are_met_exactly_are_kept():
    """All of it at the limit: half is fresh of half that must be, and four melts of four that may be."""
    old = Portion("Lot 4", 50_000, 46_250_000, melts_milli=6_000, is_fresh=False)
    sums = compute_charge([STERLING, old], RULES)
    assert (sums.fresh_pct100, sums.melts_milli, sums.remarks) == (5_000, 4_000, ())
    older = Portion("Lot 4", 50_000, 46_250_000, melts_milli=6_002, is_fresh=False)
    assert len(compute_charge([STERLING, older], RULES).remarks) == 1


def test_reclaim_at_the_limit_of_melts_is_tired():
    assert not RULES.is_tired(3_999)
    assert RULES.is_tired(4_000)
    assert not ChargeRules().is_tired(9_000), "no limit"
    assert RULES.most_mean_melts_milli == 3_000
    assert ChargeRules(most_melts_milli=500).most_mean_melts_milli == 0


def test_fresh_metal_that_is_needed_is_rounded_up():
    assert RULES.compute_fresh_needed_mg(100_001) == 50_001
    assert RULES.compute_fresh_needed_mg(100_000) == 50_000


def test_bronze_has_no_mark_to_reach():
    sums = compute_charge([Portion("Lot 5, bronze", 10_000)], ChargeRules())
    assert sums.fineness is None and sums.mark is None


def test_no_metal_is_no_charge():
    with pytest.raises(ValueError, match="no metal"):
        compute_charge([], RULES)


def test_losses_that_never_differ_leave_no_room_around_their_mean():
    limits = compute_control_limits([75, 75, 75])
    assert limits.mean == limits.upper == limits.lower == 75


def test_one_cast_has_no_limit():
    with pytest.raises(ValueError):
        compute_control_limits([75])


# Hundredths of a per cent of the charge, in the order of the work; invented, about what a cast loses (common practice).
QUIET = [78, 74, 81, 70, 76, 83, 72, 79, 75, 80, 73]


def test_an_odd_cast_does_not_widen_what_is_usual():
    usual = compute_usual_loss(QUIET)
    with_odd = compute_usual_loss([*QUIET[:6], 300, *QUIET[6:]])
    assert with_odd.upper == usual.upper
    # Worked with it, the limit would be wide enough to let the next one pass.
    assert compute_control_limits([*QUIET[:6], 300, *QUIET[6:]]).upper > 200


def test_of_two_odd_casts_neither_hides_the_other():
    assert compute_usual_loss([300, *QUIET, 160]).upper == compute_usual_loss(QUIET).upper


def test_what_was_left_out_of_the_usual_is_said():
    working = compute_usual_loss([*QUIET, 300]).working
    assert [(one.label, one.value) for one in working.givens] == [
        ("casts looked at", "12"),
        ("of them left out", "1"),
    ]


def test_of_few_casts_nothing_is_usual():
    assert compute_usual_loss(QUIET[:7]) is None
    assert compute_usual_loss(QUIET[:8]) is not None


def test_limits_are_frozen_once_enough_casts_set_them_or_the_studio_chose_them():
    assert not compute_family_limits(QUIET).is_frozen
    assert compute_family_limits(QUIET, is_renewed=True).is_frozen
    assert compute_family_limits([*QUIET, *QUIET[:9]]).is_frozen


def test_too_few_casts_say_how_many_are_missing():
    few = compute_family_limits(QUIET[:5])
    assert few.limits is None and few.upper_pct100 is None
    assert few.sentence == "Too few casts to say what is usual: after 3 more casts there will be limits."


def test_the_cast_that_is_judged_is_left_out_of_its_limits():
    assert compute_family_limits([*QUIET, 80], but=11) == compute_family_limits(QUIET)


def test_the_metal_of_a_piece_is_its_share_of_the_charge_less_what_filing_took():
    metal = explain_piece_metal(100_000, 130_000_000, 20_000, 26_000_000, 19_000, 24_700_000)
    assert metal.cost_micro == 24_700_000
    assert [step.result for step in metal.working.steps] == ["26.0000", "24.7000"]
