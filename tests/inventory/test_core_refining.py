"""What a refiner pays, what an estimate says, and how a settlement is shared out, by hand."""

import pytest

from inventory.core.ledger import Amount
from inventory.core.refiners_paper import compute_settlement
from inventory.core.refining import (
    Charges,
    Expected,
    Melt,
    Terms,
    compute_charge,
    compute_estimate,
    compute_turning,
    compute_worth,
)
from inventory.core.settling import split_return, split_settlement
from tests.workings import find_fault

GRAM = 1_000_000
TERMS = Terms(9_500, 75 * GRAM, (300_000, "ozt"), 20 * GRAM, 500_000)
PRICE = (GRAM, "g")


def sure(gross_mg: int, fine_ug: int) -> Expected:
    return Expected(gross_mg, fine_ug, fine_ug, fine_ug)


def test_the_charge_is_the_larger_of_the_sum_and_the_rate():
    assert compute_charge(TERMS, 1_000) == 75 * GRAM
    turning_mg = compute_turning(TERMS)
    # 75 ÷ 0.30 an ounce is 250 ounces.
    assert turning_mg == 7_775_870
    assert compute_charge(TERMS, turning_mg) > 75 * GRAM >= compute_charge(TERMS, turning_mg - 1)


def test_no_weight_turns_a_charge_without_a_rate():
    assert compute_turning(Terms(9_500, 75 * GRAM)) is None


def test_an_estimate_takes_charge_and_fee_off_what_is_payable():
    found = compute_estimate(sure(1_000_000, 900 * GRAM), TERMS, PRICE)
    assert found.payable_ug == 855 * GRAM
    assert found.left_micro == (760 * GRAM,) * 3
    assert found.share_pct100 == 1_111
    assert found.missing_mg == 0
    assert found.words.startswith("The charges take 11.11")


def test_too_little_for_a_batch_is_said_with_what_is_missing():
    found = compute_estimate(sure(120_000, 108 * GRAM), TERMS, PRICE)
    assert found.missing_mg == 380_000
    assert "Not yet: they take 500.00" in found.words.replace("\u00a0", " ")


def test_charges_that_take_all_are_said():
    assert "take all that it is worth" in compute_estimate(sure(600_000, 60 * GRAM), TERMS, PRICE).words


def test_one_answer_says_not_yet_once_and_what_the_charges_eat_beyond_the_worth():
    found = compute_estimate(sure(120_000, 12 * GRAM), TERMS, PRICE)
    assert found.words.count("Not yet") == 1
    assert "The charges take all that it is worth." in found.words
    # 95 % of 12 g at 1 a gram is 11.40, less 75 and 20.
    assert found.short_micro == 83_600_000
    assert compute_estimate(sure(1_000_000, 900 * GRAM), TERMS, PRICE).short_micro == 0


def test_metal_to_expect_stands_beside_what_the_book_has():
    found = compute_estimate(Expected(100_000, 80 * GRAM, 80 * GRAM, 80 * GRAM, 90 * GRAM), TERMS, PRICE)
    assert found.payable_ug == 76 * GRAM
    names = [given.label for given in found.working.givens]
    assert names[1:3] == ["fine metal in the book", "counted with, for some of the weight is no metal"]


def test_a_guess_is_told_at_its_low_and_its_high_end():
    found = compute_estimate(Expected(600_000, 400 * GRAM, 90 * GRAM, 540 * GRAM), TERMS, PRICE)
    assert found.left_micro == (-9_500_000, 285 * GRAM, 418 * GRAM)
    assert "At the low end of the guess nothing would be left." in found.words


def test_without_a_price_there_is_no_money_yet():
    found = compute_estimate(sure(600_000, 540 * GRAM), TERMS)
    assert (found.worth_micro, found.left_micro, found.share_pct100) == (None, None, None)
    assert found.payable_ug == 513 * GRAM


def test_every_sum_of_the_workings_can_be_done_again_on_a_calculator():
    estimate = compute_estimate(
        Expected(637_410, 571_228_417, 480 * GRAM, 590 * GRAM), TERMS, (31_270_000, "ozt")
    )
    charges = Charges(75 * GRAM, 20 * GRAM, 3_750_000)
    settled = compute_settlement(
        Melt(637_410, 611_083, 89_240), 9_475, charges, (31_270_000, "ozt"), 93_217_400
    )
    steps = [*estimate.working.steps, *settled.working.steps]
    faults = [find_fault(step) for step in steps]
    assert [fault for fault in faults if fault] == []
    assert sum(fault == "" for fault in faults) >= 8


def test_charges_beyond_what_came_in_money_are_paid_by_the_studio():
    found = compute_settlement(Melt(10_000, 10_000, 90_000), 10_000, Charges(5 * GRAM), PRICE, 9 * GRAM)
    assert (found.paid_ug, found.worth_micro, found.money_micro) == (0, 0, -5 * GRAM)


def test_more_metal_than_is_payable_cannot_have_come_back():
    with pytest.raises(ValueError, match="more metal"):
        compute_settlement(Melt(10_000, 10_000, 90_000), 9_500, Charges(), PRICE, 8_550_001)


def test_a_price_by_the_ounce_is_a_price_by_the_gram():
    assert compute_worth(31_103_477, (30 * GRAM, "ozt")) == 30_000_000


# 100 g of 925, cost 92: melts to 98 g, assays 900, pays 95 %, and 50 g of 999 come back.
PART = Amount(100_000, 92_500_000, 92 * GRAM)


def split(metals=((50_000, 49_950_000),), charges=0):
    return split_settlement(PART, 98_000, 88_200_000, 83_790_000, metals, charges)


def test_each_difference_goes_where_it_belongs():
    found = split()
    assert found.lost == Amount(2_000, 1_850_000, 1_840_000)
    assert found.gained == Amount()
    assert found.assay_ug == 90_650_000 - 88_200_000
    back, paid, kept = found.metals[0].amount, found.paid, found.kept
    assert (back.fine_ug, paid.fine_ug, kept.fine_ug) == (49_950_000, 33_840_000, 4_410_000)
    assert back.quantity + paid.quantity + kept.quantity == 98_000
    # 90.16 by fine metal: 49.95, 33.84 and 4.41 of 88.2.
    assert (back.cost_micro, paid.cost_micro, kept.cost_micro) == (51_060_000, 34_592_000, 4_508_000)


def test_the_charges_land_on_what_was_paid_for():
    [back] = split(charges=8_379_000).metals
    assert back.fee_micro == 4_995_000


def test_metal_heavier_than_the_melt_has_the_refiners_own_base_metal_in_it():
    found = split_settlement(PART, 90_000, 89_910_000, 89_910_000, [(97_200, 89_910_000)])
    [back] = found.metals
    assert (back.amount.quantity, back.added_mg) == (90_000, 7_200)
    assert found.paid == found.kept == Amount()


def test_a_finer_assay_and_a_heavier_scale_bring_metal_in():
    found = split_settlement(PART, 100_200, 95_190_000, 90_000_000, [])
    assert found.lost == Amount()
    assert found.gained == Amount(200, 185_000, 184_000)
    assert found.assay_ug == 92_685_000 - 95_190_000


def test_worthless_metal_is_kept_with_all_its_cost():
    found = split_settlement(PART, 60_000, 0, 0, [])
    assert found.kept == Amount(60_000, 0, 55_200_000)
    assert found.assay_ug == 55_500_000


def test_all_lost_in_the_melt_takes_everything():
    assert split_settlement(PART, 0, 0, 0, []).lost == PART


def test_unsettled_each_lot_gets_its_own_again_to_the_last_unit():
    sent = [Amount(31_203, 28_862_775, 29_871_113), Amount(7, 6_475, 1), Amount(400, 399_600, 0)]
    held = Amount(31_610, 29_268_850, 29_871_114)
    assert [own for own, _ in split_return(held, sent, [31_203, 7, 400])] == sent
    back = split_return(held, sent, [31_000, 7, 400])
    assert back[0][0].quantity == 31_000
    assert back[0][0] + back[0][1] == sent[0]


def test_a_lot_of_which_nothing_whole_is_left_gives_its_crumbs_to_the_fullest():
    shares = split_return(Amount(3, 2_777, 5), [Amount(9_000, 8_325_000, 9), Amount(1, 925, 8)], [3, 0])
    assert shares[1] == (Amount(), Amount())
    assert shares[0][0] == Amount(3, 2_777, 5)
