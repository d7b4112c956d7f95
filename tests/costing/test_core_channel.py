"""What a channel keeps of a price, and the price that leaves what is wanted."""

from dataclasses import replace
from fractions import Fraction
from itertools import product
from random import Random

import pytest

from costing.core.channel import Fees, compute_kept, solve_price
from costing.core.price import PriceRule, Rounding, Rule
from costing.core.wanted import CostParts, compute_wanted
from tests.support import told

UNIT, PENNY = 1_000_000, 10_000
TABLE = Fees(label="own table")
MARKET = Fees(
    label="market",
    commission_pct100=1_000,
    card_pct100=175,
    card_micro=200_000,
    day_micro=45 * UNIT,
    sold_a_day=9,
    tax_pct100=2_000,
)

SMALL = replace(MARKET, day_micro=450_000)


def price_of(cost: int, rule: PriceRule, fees: Fees = TABLE) -> int:
    wanted = compute_wanted(CostParts(other_micro=cost * UNIT), rule)
    kept = solve_price(wanted.micro, fees, PENNY).kept
    assert kept is not None
    return kept.told_micro


def test_a_cost_of_50_at_a_margin_of_60_is_125_and_at_a_markup_of_60_is_80():
    """Arithmetic: 50 ÷ (1 − 0.6) = 125; 50 × 1.6 = 80."""
    assert price_of(50, PriceRule(label="x", rule=Rule.MARGIN, value_pct100=6_000)) == 125 * UNIT
    assert price_of(50, PriceRule(label="x", rule=Rule.MULTIPLE, value_pct100=16_000)) == 80 * UNIT


def test_a_price_at_a_market_by_hand():
    """60.00 to be left, 5.00 of the table's 45.00 and 0.20 a sale: 65.20 ÷ (1 − 0.1 − 0.0175 × 1.2) = 74.1752 before
    tax, 89.0102 with it (arithmetic). Of 89.02 14.84 is tax, 7.42 commission, 1.56 + 0.20 card, 5.00 the table."""
    solved = solve_price(60 * UNIT, MARKET, PENNY)
    assert solved.kept.told_micro == 89_020_000
    kept = compute_kept(89_020_000, MARKET)
    assert [kept.tax_micro, kept.commission_micro, kept.card_micro] == [14_840_000, 7_420_000, 1_760_000]
    assert kept.left_micro == 60 * UNIT
    text = told(solved.working)
    assert "(60.0000 + 5.20) ÷ (100 % − 10 % − 1.75 % × (100 % + 20 %))" in text
    assert "74.1752" in text


def test_the_price_is_the_lowest_of_all_pennies_that_leaves_what_is_wanted():
    """Against brute force: every penny from nothing up is tried."""
    for commission, card, tax, way in product(
        (0, 4_000, 9_000), (0, 175), (0, 2_000, 10_000), ("in", "out", "none")
    ):
        fees = replace(SMALL, commission_pct100=commission, card_pct100=card, tax_pct100=tax, tax=way)
        for wanted in (0, 123_450, 1_230_000):
            penny = next(p for p in range(100_000) if compute_kept(p * PENNY, fees).left_micro >= wanted)
            solved = solve_price(wanted, fees, PENNY)
            assert solved.kept.told_micro == penny * PENNY


def test_the_margin_after_every_fee_is_the_one_asked_for_to_the_penny():
    """What is left is never less than asked, and a penny less would be too little: no more than the roundings of tax,
    commission and card (half a penny each) and one step of the price lie between."""
    rng = Random(7)
    for _ in range(300):
        fees = replace(
            MARKET,
            commission_pct100=rng.randrange(0, 6_000),
            card_pct100=rng.randrange(0, 400),
            tax=rng.choice(["in", "out"]),
        )
        cost, margin = rng.randrange(1, 20_000) * PENNY, rng.randrange(0, 9_000)
        rule = PriceRule(label="x", rule=Rule.MARGIN, value_pct100=margin)
        wanted = compute_wanted(CostParts(other_micro=cost), rule).micro
        kept = solve_price(wanted, fees, PENNY).kept
        assert 0 <= kept.left_micro - wanted <= 4 * PENNY
        assert abs(Fraction(wanted) - Fraction(cost * 10_000, 10_000 - margin)) <= 50


def test_a_step_explains_what_is_left_beyond_what_was_asked():
    solved = solve_price(60 * UNIT, MARKET, 5 * UNIT)
    assert solved.kept.told_micro == 90 * UNIT
    assert "the lowest on a step of 5.00 that leaves it" in told(solved.working)
    assert solve_price(60 * UNIT, MARKET, 10 * UNIT, Rounding.NEAREST).kept.told_micro == 90 * UNIT
    assert solve_price(55 * UNIT, MARKET, 20 * UNIT, Rounding.NEAREST).kept.told_micro == 80 * UNIT


def test_no_step_is_smaller_than_the_smallest_coin():
    assert solve_price(60 * UNIT, MARKET, 1).kept.told_micro == 89_020_000
    assert solve_price(60 * UNIT, replace(MARKET, unit_micro=UNIT), 50_000).kept.told_micro % UNIT == 0


def test_tax_that_is_added_stands_outside_the_price_and_the_card_takes_its_share_of_it():
    fees = Fees(label="by post", card_pct100=1_000, tax="out", tax_pct100=2_000)
    # 100 and 20 tax: the card takes 12, so 88 is left.
    assert compute_kept(100 * UNIT, fees).left_micro == 88 * UNIT
    assert solve_price(88 * UNIT, fees, PENNY).kept.told_micro == 100 * UNIT


@pytest.mark.parametrize(("commission", "card"), [(9_000, 1_000), (10_000, 0), (9_950, 0), (5_000, 4_999)])
def test_fees_that_eat_the_price_are_refused_in_a_sentence(commission, card):
    solved = solve_price(UNIT, Fees(label="x", commission_pct100=commission, card_pct100=card), PENNY)
    assert solved.kept is None
    assert solved.problem.startswith("The fees eat the price")


def test_a_price_that_leaves_nothing_has_no_margin():
    kept = compute_kept(5_200_000, replace(MARKET, tax="none", commission_pct100=0, card_pct100=0))
    assert (kept.left_micro, kept.margin_pct100(UNIT)) == (0, None)
    assert "margin" not in told(kept.work(UNIT))
