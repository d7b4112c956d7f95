"""What to weigh into the crucible, and what to say when it cannot be."""

from datetime import timedelta

import pytest

from inventory.core.charge import ChargeRules
from inventory.core.charge_judging import judge_charge
from inventory.core.charge_shelf import Bind, ChargeWanted
from inventory.core.proposing import propose_charge

from .shelves import (
    ANY_SHARE,
    FIRST_DAY,
    HALF_FRESH,
    a_lot,
    alloying,
    broken_rules,
    masses_of,
    reclaim,
    reclaim_mg,
    with_mends,
)

NEEDED = ChargeWanted(52_000, HALF_FRESH)
GRAIN = a_lot(1, 100_000, label="grain")
BUTTONS = reclaim(2, 60_000, label="buttons")
GOLD_750 = ChargeRules(per_mille=750, least_fresh_pct100=5_000, most_melts_milli=4_000)
UNSPACED = str.maketrans("\u00a0", " ")


def propose(*lots, wanted=NEEDED):
    return propose_charge(lots, wanted)


def said(proposal, bind):
    """The sentence for one rule, with plain spaces."""
    return next(one.sentence for one in proposal.problems if one.bind is bind).translate(UNSPACED)


def binds(proposal):
    return [problem.bind for problem in proposal.problems]


# ---------------------------------------------------------------- the ordinary day


def test_half_reclaim_and_half_grain():
    proposal = propose(GRAIN, BUTTONS)
    assert masses_of(proposal) == {2: 26_000, 1: 26_000}
    assert (proposal.total_mg, proposal.fine_ug, proposal.fresh_pct100) == (52_000, 48_100_000, 5_000)
    assert (proposal.melts_milli, proposal.cost_micro) == (1_750, 41_600_000)
    assert proposal.problems == () and proposal.remarks == ()


def test_reclaim_is_weighed_first_and_each_line_says_why():
    lines = propose(GRAIN, BUTTONS).lines
    assert [line.label for line in lines] == ["buttons", "grain"]
    assert lines[0].why.startswith("Reclaim goes in first")
    assert lines[1].why == "Fresh metal for the rest of the charge."


def test_all_reclaim_goes_in_where_there_is_little():
    proposal = propose(GRAIN, reclaim(2, 12_340))
    assert masses_of(proposal) == {2: 12_340, 1: 39_660}
    assert proposal.lines[0].uses_up
    assert proposal.lines[0].why.endswith("This uses the lot up.")


def test_metal_that_is_promised_elsewhere_is_not_proposed():
    proposal = propose(GRAIN, reclaim(2, 60_000, free_mg=10_000))
    assert masses_of(proposal)[2] == 10_000
    assert not proposal.lines[0].uses_up


def test_of_lots_that_are_alike_as_few_as_can_be_are_taken():
    tin = [reclaim(10 + key, 10_000) for key in range(8)] + [reclaim(30, 20_000)]
    assert len([line for line in propose(GRAIN, *tin).lines if line.key != 1]) == 2


def test_one_large_lot_is_taken_before_a_small_one_and_part_of_it():
    large = reclaim(11, 60_000, fine_ug=60_000 * 925 + 9_000)
    small = reclaim(12, 15_000, fine_ug=15_000 * 925 + 1_500, melts_milli=3_000)
    assert masses_of(propose(GRAIN, large, small)) == {11: 26_000, 1: 26_000}


def test_what_was_melted_most_then_what_is_oldest_is_used_up():
    tin = [
        reclaim(11, 26_000, melts_milli=1_000, day=FIRST_DAY - timedelta(days=9)),
        reclaim(12, 26_000, melts_milli=2_000, day=FIRST_DAY + timedelta(days=9)),
        reclaim(13, 26_000, melts_milli=2_000, day=FIRST_DAY),
    ]
    assert masses_of(propose(GRAIN, *tin)) == {13: 26_000, 1: 26_000}


def test_the_cheaper_of_two_lots_that_came_on_one_day_is_taken():
    dear = a_lot(5, 60_000, day=FIRST_DAY, micro_per_mg=900)
    cheap = a_lot(6, 60_000, day=FIRST_DAY, micro_per_mg=700)
    proposal = propose(dear, cheap)
    assert masses_of(proposal) == {6: 52_000}
    assert proposal.cost_micro == 36_400_000


def test_lots_that_are_not_taken_say_why():
    proposal = propose(
        GRAIN,
        BUTTONS,
        reclaim(3, 9_000, label="old sprues"),
        reclaim(4, 9_000, melts_milli=4_000, label="tired sprues"),
        a_lot(5, 9_000, owner=1, label="Ms Ash's ring"),
        a_lot(6, 9_000, free_mg=0, label="promised grain"),
        a_lot(7, 30, label="a crumb"),
        a_lot(8, 9_000, label="new grain"),
    )
    reasons = {one.key: one.reason.translate(UNSPACED) for one in proposal.left_out}
    assert reasons == {
        3: "old sprues finds no room: no more than 50 % may be reclaim.",
        4: "tired sprues has had 4 melts; your limit is 4 melts.",
        5: "Ms Ash's ring belongs to a customer and stays theirs.",
        6: "promised grain has nothing left that is not promised.",
        7: "a crumb holds 0.03 g: too little to be worth weighing.",
        8: "new grain is not needed.",
    }


def test_reclaim_that_is_not_fine_enough_says_so():
    reasons = propose(GRAIN, reclaim(2, 9_000, 800, label="poor scrap")).left_out
    assert "would take the charge below 925" in reasons[0].reason


def test_the_working_shows_lots_rules_and_sums():
    working = propose(GRAIN, BUTTONS).working
    assert [given.label for given in working.givens] == [
        *("grain", "buttons", "metal needed", "the mark", "at least to be fresh", "at most"),
        "step of the scale",
    ]
    steps = {step.text.translate(UNSPACED): step.result.translate(UNSPACED) for step in working.steps}
    assert steps["so reclaim at most"] == "26.00 g"
    assert steps["fine metal wanted: 52.00 g × 925 ÷ 1000"] == steps["fine metal in it"] == "48.100 g"
    assert working.result.translate(UNSPACED) == "26.00 g of buttons and 26.00 g of grain"


# ---------------------------------------------------------------- alloying


def test_plain_alloy_is_preferred_to_mixing_from_elements():
    proposal = propose(GRAIN, alloying(5, 90_000, 999), alloying(6, 90_000, 0))
    assert masses_of(proposal) == {1: 52_000}


def test_without_alloy_fine_silver_and_copper_just_reach_the_mark():
    proposal = propose(alloying(5, 100_000, 1_000), alloying(6, 100_000, 0))
    assert masses_of(proposal) == {5: 48_100, 6: 3_900}
    assert proposal.fine_ug == 52_000 * 925


def test_a_step_of_the_scale_is_rounded_to_the_fine_side():
    masses = masses_of(propose(alloying(5, 100_000, 999), alloying(6, 100_000, 0)))
    assert masses == {5: 48_150, 6: 3_850}
    assert 48_140 * 999 < 52_000 * 925 <= 48_150 * 999


def test_elements_only_fill_up_what_the_alloy_lacks():
    proposal = propose(a_lot(1, 30_000), BUTTONS, alloying(5, 90_000, 999), alloying(6, 90_000, 0))
    assert masses_of(proposal) == {2: 26_000, 1: 26_000}
    short = propose(a_lot(1, 20_000), BUTTONS, alloying(5, 90_000, 1_000), alloying(6, 90_000, 0))
    assert masses_of(short) == {2: 26_000, 1: 20_000, 5: 5_550, 6: 450}


def test_fine_silver_lets_poorer_reclaim_go_in():
    proposal = propose(GRAIN, reclaim(2, 60_000, 900), alloying(5, 60_000, 999))
    # 26.00 g lack 25 thousandths each; a gram of fine silver brings 74 thousandths over the mark.
    assert masses_of(proposal) == {2: 26_000, 1: 17_210, 5: 8_790}


def test_precious_metal_is_not_wasted_above_the_mark():
    proposal = propose(a_lot(1, 100_000, 958), a_lot(2, 100_000, 925))
    assert masses_of(proposal) == {2: 52_000}


def test_only_fine_metal_goes_in_with_a_word_on_what_it_would_carry():
    proposal = propose(alloying(5, 100_000, 999))
    assert masses_of(proposal) == {5: 52_000}
    assert "would carry 4.16" in proposal.remarks[0].translate(UNSPACED)


def test_gold_of_750_from_fine_gold_and_copper():
    wanted = ChargeWanted(20_000, GOLD_750, metal="gold")
    assert masses_of(propose(alloying(5, 30_000, 1_000), alloying(6, 30_000, 0), wanted=wanted)) == {
        5: 15_000,
        6: 5_000,
    }


def test_bronze_has_no_mark_and_keeps_the_other_rules():
    wanted = ChargeWanted(52_000, ChargeRules(0, 5_000, 4_000))
    assert masses_of(propose(a_lot(1, 60_000, 0), reclaim(2, 60_000, 0), wanted=wanted)) == {
        2: 26_000,
        1: 26_000,
    }


# ---------------------------------------------------------------- melts and owners


def test_reclaim_at_the_limit_of_melts_stays_out():
    proposal = propose(GRAIN, reclaim(2, 60_000, melts_milli=4_000))
    assert masses_of(proposal) == {1: 52_000}


def test_the_charge_itself_stays_within_the_limit_of_melts():
    wanted = ChargeWanted(52_000, ChargeRules(925, 0, 4_000))
    proposal = propose(GRAIN, reclaim(2, 60_000, melts_milli=3_500), wanted=wanted)
    # Of 3.5 melts so much that the mean is 3, and one more for this pour.
    assert masses_of(proposal) == {2: 44_570, 1: 7_430}
    assert proposal.melts_milli == 4_000


def test_a_customers_metal_is_only_for_its_owner():
    theirs = a_lot(3, 60_000, owner=7)
    assert masses_of(propose(theirs, GRAIN)) == {1: 52_000}
    for_them = ChargeWanted(52_000, HALF_FRESH, owner=7)
    assert masses_of(propose(theirs, a_lot(4, 60_000, owner=8), wanted=for_them)) == {3: 52_000}


def test_a_customers_cast_takes_the_studios_metal_only_where_theirs_will_not_do():
    for_them = ChargeWanted(52_000, HALF_FRESH, owner=7)
    theirs, buttons = a_lot(3, 20_000, owner=7), reclaim(4, 20_000, owner=7)
    proposal = propose(GRAIN, BUTTONS, theirs, buttons, wanted=for_them)
    # 6.00 g are needed for the fresh share; the last 6.00 g may be the studio's reclaim.
    assert masses_of(proposal) == {3: 20_000, 4: 20_000, 1: 6_000, 2: 6_000}
    assert {line.key for line in proposal.lines if "studio's own" in line.why} == {1, 2}


# ---------------------------------------------------------------- odd amounts


def test_milligrams_that_the_scale_cannot_show_go_on_one_portion_of_fresh_metal():
    wanted = ChargeWanted(52_003, HALF_FRESH)
    assert masses_of(propose(GRAIN, BUTTONS, wanted=wanted)) == {2: 26_000, 1: 26_003}


def test_or_they_use_a_lot_up():
    wanted = ChargeWanted(52_003, HALF_FRESH)
    assert masses_of(propose(GRAIN, reclaim(2, 20_003), wanted=wanted)) == {2: 20_003, 1: 32_000}


def test_exactly_enough_is_enough():
    wanted = ChargeWanted(52_002, HALF_FRESH)
    proposal = propose(a_lot(1, 26_001), reclaim(2, 26_001), wanted=wanted)
    assert masses_of(proposal) == {1: 26_001, 2: 26_001}
    assert all(line.uses_up for line in proposal.lines)


def test_a_milligram_short_is_short():
    proposal = propose(a_lot(1, 51_999))
    assert binds(proposal) == [Bind.TOTAL]
    assert proposal.problems[0].missing_mg == 1


def test_nobody_weighs_a_milligram_unless_it_is_needed():
    assert masses_of(propose(a_lot(1, 52_000), reclaim(2, 1))) == {1: 52_000}
    assert masses_of(propose(a_lot(1, 51_999), reclaim(2, 1))) == {1: 51_999, 2: 1}


def test_no_portion_is_smaller_than_is_worth_weighing():
    # 50 mg of reclaim are missing to the half: the grain would have to give the rest all the same.
    proposal = propose(GRAIN, reclaim(2, 25_950), reclaim(3, 50))
    assert masses_of(proposal) == {2: 25_950, 1: 26_050}
    both_give = propose(a_lot(1, 26_000), a_lot(4, 26_000), wanted=ChargeWanted(26_050, HALF_FRESH))
    assert min(masses_of(both_give).values()) >= 100


def test_portions_stay_worth_weighing_where_steps_of_the_scale_will_not_do():
    proposal = propose(a_lot(1, 30_005), a_lot(4, 21_995), reclaim(2, 1))
    assert masses_of(proposal) == {1: 30_005, 4: 21_995}


def test_a_charge_lighter_than_the_smallest_portion_is_still_weighed():
    assert masses_of(propose(GRAIN, wanted=ChargeWanted(5, HALF_FRESH))) == {1: 5}


def test_tonnes_are_reckoned_like_grams():
    tonnes = 10**12
    proposal = propose(a_lot(1, tonnes), reclaim(2, tonnes), wanted=ChargeWanted(tonnes, HALF_FRESH))
    assert masses_of(proposal) == {1: tonnes // 2, 2: tonnes // 2}


def test_a_hair_of_rounding_in_the_book_keeps_no_reclaim_out():
    worn = reclaim(2, 60_000, fine_ug=60_000 * 925 - 3)
    proposal = propose(a_lot(1, 60_000, fine_ug=60_000 * 925 - 1), worn)
    assert masses_of(proposal) == {1: 26_000, 2: 26_000}
    assert not proposal.sums.falls_short


def test_a_hair_of_rounding_is_no_problem_of_its_own():
    worn = reclaim(2, 60_000, fine_ug=60_000 * 925 - 3)
    assert binds(propose(a_lot(1, 20_000), worn)) == [Bind.FRESH]


def test_more_than_a_hair_is_below_the_mark():
    proposal = propose(a_lot(1, 60_000, fine_ug=60_000 * 925 - 3))
    assert binds(proposal) == [Bind.MARK] and proposal.lines == ()
    assert proposal.problems[0].missing_mg == 1


def test_sixty_small_lots_make_a_charge():
    tin = [reclaim(100 + key, 1_000 + 10 * key, melts_milli=1_000 + 7 * key) for key in range(60)]
    proposal = propose(GRAIN, *tin, wanted=ChargeWanted(120_000, ChargeRules(925, 3_000, 4_000)))
    masses = masses_of(proposal)
    assert reclaim_mg(tin, masses) == sum(lot.free_mg for lot in tin) == 77_700
    assert masses[1] == 120_000 - 77_700


# ---------------------------------------------------------------- what binds, and what mends it


def test_too_little_metal():
    proposal = propose(a_lot(1, 30_000), reclaim(2, 11_200))
    assert said(proposal, Bind.TOTAL) == (
        "The shelf holds 41.20 g that may go in; 52.00 g are needed: 10.80 g short."
    )
    assert proposal.lines == () and proposal.sums is None and proposal.cost_micro == 0
    assert masses_of(proposal.instead) == {1: 30_000, 2: 11_200}


def test_too_little_fresh_metal():
    proposal = propose(a_lot(1, 20_000), BUTTONS)
    assert said(proposal, Bind.FRESH) == (
        "Half must be fresh: 26.00 g of fresh metal are needed and 20.00 g are here: 6.00 g short."
    )
    assert proposal.problems[0].missing_mg == 6_000
    assert masses_of(proposal.instead) == {1: 20_000, 2: 20_000}


def test_no_fresh_metal_at_all():
    proposal = propose(BUTTONS)
    assert binds(proposal) == [Bind.FRESH]
    assert proposal.problems[0].missing_mg == 26_000
    assert proposal.instead is None


def test_a_studio_that_melts_only_fresh_metal():
    proposal = propose(BUTTONS, wanted=ChargeWanted(52_000, ChargeRules(925, 10_000)))
    assert said(proposal, Bind.FRESH).startswith("All must be fresh: 52.00 g")


def test_not_fine_enough():
    proposal = propose(a_lot(1, 26_000, 917), reclaim(2, 26_000, 917, label="old spoons"))
    # 8 thousandths of 52 g are missing; each gram of 999 for one of 917 brings 82 thousandths.
    assert said(proposal, Bind.MARK) == (
        "All that may go in comes to 917 per mille; the mark is 925. "
        "Adding 5.074 g of fine silver (999) would reach it."
    )
    assert proposal.problems[0].missing_mg == 5_074
    assert proposal.instead is None


def test_a_milligram_less_than_the_grams_named_would_not_reach_the_mark():
    lots = [a_lot(1, 60_000, 917)]
    (problem,) = propose(*lots).problems
    assert propose_charge(with_mends(lots, (problem,), NEEDED), NEEDED).problems == ()
    assert propose(*lots, a_lot(9, problem.missing_mg - 1, 999)).problems != ()


def test_fine_gold_is_named_for_gold():
    wanted = ChargeWanted(20_000, GOLD_750, metal="gold")
    assert "of fine gold (999)" in said(propose(a_lot(1, 30_000, 585), wanted=wanted), Bind.MARK)


def test_no_metal_to_buy_is_fine_enough_for_such_a_mark():
    wanted = ChargeWanted(20_000, ChargeRules(1_000))
    (problem,) = propose(a_lot(1, 30_000, 999), wanted=wanted).problems
    assert problem.missing_mg == 0
    assert problem.sentence.endswith("Metal finer than 999 is needed.")


def test_copper_alone_is_no_silver():
    proposal = propose(alloying(6, 60_000, 0))
    assert binds(proposal) == [Bind.MARK]
    assert propose_charge(with_mends([alloying(6, 60_000, 0)], proposal.problems, NEEDED), NEEDED).lines


def test_every_reclaim_lot_was_melted_too_often():
    tired = reclaim(2, 60_000, melts_milli=4_000)
    proposal = propose(a_lot(1, 20_000), tired)
    assert said(proposal, Bind.MELTS) == (
        "Every reclaim lot has been melted as often as your limit of 4 melts, or more often: 60.00 g stay out. "
        "Have it refined."
    )
    some = propose(a_lot(1, 20_000), tired, reclaim(3, 5_000))
    assert said(some, Bind.MELTS).startswith("60.00 g of lot 2 stay out")


def test_a_charge_of_old_reclaim_needs_fresh_metal_to_stay_within_the_limit():
    wanted = ChargeWanted(52_000, ChargeRules(925, 0, 4_000))
    proposal = propose(reclaim(2, 60_000, melts_milli=3_800), a_lot(1, 1_000), wanted=wanted)
    assert binds(proposal) == [Bind.MELTS]
    assert said(proposal, Bind.MELTS).endswith("Adding 9.948 g of fresh metal would keep it.")


def test_metal_of_a_customer_stays_theirs_and_the_sentence_says_so():
    proposal = propose(a_lot(1, 40_000), a_lot(3, 20_000, owner=1, label="Reclaim of Ms Ash"))
    assert (
        said(proposal, Bind.OWNER) == "20.00 g of Reclaim of Ms Ash belongs to a customer and stays theirs."
    )
    for_them = ChargeWanted(52_000, HALF_FRESH, owner=7)
    others = propose(a_lot(3, 60_000, owner=1), a_lot(4, 60_000, owner=2), wanted=for_them)
    assert said(others, Bind.OWNER).endswith("belong to another customer and stay theirs.")


def test_a_rule_that_keeps_out_what_would_not_help_is_not_named():
    proposal = propose(a_lot(1, 20_000), BUTTONS, reclaim(3, 9_000, melts_milli=4_000))
    assert binds(proposal) == [Bind.FRESH]


def test_several_rules_bind_and_all_their_mends_together_make_the_charge():
    lots = [reclaim(1, 20_000, 800), a_lot(2, 10_000, 900)]
    proposal = propose(*lots)
    assert binds(proposal) == [Bind.TOTAL, Bind.FRESH, Bind.MARK]
    mended = with_mends(lots, proposal.problems, NEEDED)
    again = propose_charge(mended, NEEDED)
    assert broken_rules(mended, masses_of(again), NEEDED) == set()


@pytest.mark.parametrize("needed_mg", [0, -1])
def test_no_mass_is_asked_about(needed_mg):
    proposal = propose(GRAIN, wanted=ChargeWanted(needed_mg, HALF_FRESH))
    assert binds(proposal) == [Bind.NOTHING_WANTED]


def test_an_empty_shelf_is_short_of_everything():
    proposal = propose()
    assert binds(proposal) == [Bind.TOTAL, Bind.FRESH]
    assert proposal.instead is None


# ---------------------------------------------------------------- a charge changed by hand


def judge(masses, *lots, wanted=NEEDED):
    return judge_charge(lots, masses, wanted)


def test_the_proposed_charge_is_found_right():
    judged = judge({1: 26_000, 2: 26_000}, GRAIN, BUTTONS)
    assert judged.problems == () and judged.remarks == ()
    assert judged.cost_micro == 41_600_000
    assert judged.sums.melts_milli == 1_750


def test_every_rule_that_a_changed_charge_breaks_is_named():
    lots = [
        a_lot(1, 60_000, 900),
        reclaim(2, 60_000, melts_milli=4_000),
        a_lot(3, 9_000, owner=3),
    ]
    judged = judge({1: 20_000, 2: 70_000, 3: 10}, *lots, wanted=ChargeWanted(100_000, HALF_FRESH))
    assert [problem.bind for problem in judged.problems] == [
        *(Bind.ON_HAND, Bind.MELTS, Bind.OWNER, Bind.TOTAL, Bind.MARK, Bind.FRESH, Bind.MELTS)
    ]


def test_grams_named_for_a_changed_charge_mend_it():
    lots = [reclaim(1, 60_000, 900), a_lot(8, 60_000, 925), a_lot(9, 60_000, 999)]
    short_of_fresh, wanted = {1: 40_000, 8: 13_000}, ChargeWanted(50_000, HALF_FRESH)
    below, fresh = judge(short_of_fresh, *lots, wanted=wanted).problems
    assert (below.bind, fresh.bind) == (Bind.MARK, Bind.FRESH)
    mended = judge(
        {**short_of_fresh, 9: below.missing_mg, 8: 13_000 + fresh.missing_mg}, *lots, wanted=wanted
    )
    assert mended.problems == ()
    almost = judge({**short_of_fresh, 9: below.missing_mg - 1}, *lots, wanted=wanted)
    assert Bind.MARK in [problem.bind for problem in almost.problems]


def test_only_fresh_metal_leaves_no_room_for_any_reclaim():
    wanted = ChargeWanted(52_000, ChargeRules(925, 10_000))
    (problem,) = judge({1: 51_000, 2: 1_000}, GRAIN, BUTTONS, wanted=wanted).problems
    assert problem.sentence.endswith("Leave the reclaim out.")


def test_more_than_is_needed_is_remarked_on_and_no_problem():
    judged = judge({1: 53_000}, GRAIN)
    assert judged.problems == ()
    assert judged.remarks[0].translate(UNSPACED) == "The charge is 1.00 g more than is needed."


def test_metal_far_above_the_mark_is_remarked_on():
    judged = judge({1: 100_000}, a_lot(1, 100_000, 1_000), wanted=ChargeWanted(100_000, ANY_SHARE))
    assert "would carry 8.108 g of base metal" in judged.remarks[0].translate(UNSPACED)


def test_a_thousandth_above_the_mark_is_the_first_that_is_remarked_on():
    wanted = ChargeWanted(100_000, ANY_SHARE)
    (remark,) = judge({1: 100_000}, a_lot(1, 100_000, 926), wanted=wanted).remarks
    assert "would carry 0.108 g of base metal" in remark.translate(UNSPACED)
    assert judge({1: 100_000}, a_lot(1, 100_000, fine_ug=92_599_999), wanted=wanted).remarks == ()


def test_nothing_written_down_has_no_sums():
    assert judge({1: 0}, GRAIN).sums is None


def test_a_lot_with_nothing_in_it_has_nothing_to_give():
    (on_hand, *_) = judge({1: 52_000}, a_lot(1, 0)).problems
    assert on_hand.bind is Bind.ON_HAND


def test_a_portion_below_zero_is_a_programmers_mistake():
    with pytest.raises(ValueError, match="below zero"):
        judge({1: -1}, GRAIN)


def sentences(judged):
    return [problem.sentence.translate(UNSPACED) for problem in judged.problems]


def test_every_sentence_of_a_judgement_is_said_whole():
    lots = [
        a_lot(1, 60_000, 900, label="grain"),
        reclaim(2, 60_000, melts_milli=4_000, label="old buttons"),
        a_lot(3, 9_000, owner=3, label="their ring"),
    ]
    judged = judge({1: 20_000, 2: 70_000, 3: 10}, *lots, wanted=ChargeWanted(100_000, HALF_FRESH))
    assert sentences(judged) == [
        "old buttons has 60.00 g that is not promised and 70.00 g are to go in: 10.00 g short.",
        "old buttons has had 4 melts, and your limit is 4 melts: have it refined.",
        "0.01 g of their ring belongs to a customer and stays theirs.",
        "The charge is 90.01 g and 100.00 g are needed: 9.99 g short.",
        "It comes to 919.44 per mille; the mark is 925. Adding 6.757 g of fine silver (999) would reach it.",
        "Half must be fresh: 20.01 g of 90.01 g is, 22.23 %. 49.99 g more of fresh metal would do.",
        "After this pour it will have had 4.1 melts; the rule allows 4 melts before it is refined.",
    ]
    mends = [(problem.missing_mg, problem.add_per_mille) for problem in judged.problems]
    assert mends == [(10_000, 0), (0, 0), (0, 0), (9_990, 925), (6_757, 999), (49_990, 925), (0, 0)]
    assert judged.remarks == ()


def test_a_charge_that_meets_every_limit_exactly_breaks_none():
    """All that the lots hold, all that is needed, the mark, half of it fresh, and as many melts as may be."""
    wanted = ChargeWanted(52_000, ChargeRules(925, 5_000, 2_500))
    shelf = [a_lot(1, 26_000), reclaim(2, 26_000, melts_milli=2_499)]
    judged = judge({1: 26_000, 2: 26_000}, *shelf, wanted=wanted)
    assert judged.problems == () and judged.remarks == ()
    fresh = a_lot(3, 26_000, melts_milli=3_000)
    exact = ChargeWanted(26_000, ChargeRules(925, 5_000, 4_000))
    assert judge({3: 26_000}, fresh, wanted=exact).problems == ()
    over = ChargeWanted(26_000, ChargeRules(925, 5_000, 3_999))
    assert [one.bind for one in judge({3: 26_000}, fresh, wanted=over).problems] == [Bind.MELTS]


def test_nothing_written_down_says_so():
    judged = judge({1: 0}, GRAIN)
    assert sentences(judged) == ["No metal is written down yet."]
    assert judged.cost_micro == 0
