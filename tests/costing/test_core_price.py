"""What to ask for a piece."""

from dataclasses import replace

import pytest

from costing.core.price import (
    PriceRule,
    Rounding,
    Rule,
    compute_margin_pct100,
    compute_price,
    compute_prices,
    compute_tax_inside,
    replace_metal,
)

UNIT = 1_000_000
GALLERY = PriceRule(label="to a gallery", rule=Rule.MULTIPLE, value_pct100=20_000)


def test_a_price_goes_up_to_the_studios_step():
    rule = replace(GALLERY, step_micro=5 * UNIT)
    assert compute_price(41 * UNIT, rule).asked_micro == 85 * UNIT


def test_a_price_on_a_step_stays_there():
    rule = replace(GALLERY, step_micro=5 * UNIT)
    assert compute_price(40 * UNIT, rule).asked_micro == 80 * UNIT


def test_a_price_may_go_to_the_nearest_step_instead():
    rule = replace(GALLERY, step_micro=5 * UNIT, rounding=Rounding.NEAREST)
    assert compute_price(41 * UNIT, rule).asked_micro == 80 * UNIT
    assert compute_price(41_250_000, rule).asked_micro == 85 * UNIT


def test_without_a_step_a_price_is_left_alone():
    assert compute_price(41_000_001, GALLERY).asked_micro == 82_000_002


def test_fees_are_a_share_of_the_price_so_that_the_wanted_sum_is_left():
    assert compute_price(50 * UNIT, replace(GALLERY, fees_pct100=5_000)).asked_micro == 200 * UNIT


def test_tax_is_in_the_price_that_is_asked_and_told_apart():
    price = compute_price(50 * UNIT, replace(GALLERY, tax_pct100=2_000))
    assert price.asked_micro == 120 * UNIT
    assert price.tax_micro == 20 * UNIT
    assert price.before_tax_micro == 100 * UNIT


def test_tax_is_taken_from_the_price_after_rounding_to_the_step():
    price = compute_price(41 * UNIT, replace(GALLERY, tax_pct100=2_000, step_micro=10 * UNIT))
    assert price.asked_micro == 100 * UNIT
    assert price.tax_micro == 16_670_000


def test_tax_of_half_a_penny_goes_up_and_of_less_goes_down():
    """HMRC VATREC12030 (read): below 0.5 down, 0.5 and more up."""
    # At 100 % the tax is half of the price, so a price of 1.01 carries 50.5 pence.
    assert compute_tax_inside(1_010_000, 10_000, 10_000) == 510_000
    assert compute_tax_inside(1_009_998, 10_000, 10_000) == 500_000


@pytest.mark.parametrize(
    ("rule", "says"),
    [
        (PriceRule(label="x", rule=Rule.MARGIN, value_pct100=10_000), "less than 100"),
        (PriceRule(label="x", rule=Rule.MARGIN, value_pct100=-1), "0 or more"),
        (PriceRule(label="x", rule=Rule.MULTIPLE, value_pct100=0), "how many times"),
        (replace(GALLERY, fees_pct100=10_000), "Fees"),
        (replace(GALLERY, tax_pct100=-1), "Tax"),
    ],
)
def test_a_rule_that_gives_no_price_says_why(rule, says):
    price = compute_price(50 * UNIT, rule)
    assert price.asked_micro == 0
    assert says in price.problem


def test_a_multiple_below_one_is_allowed_and_the_working_warns():
    price = compute_price(50 * UNIT, replace(GALLERY, value_pct100=8_000))
    assert price.asked_micro == 40 * UNIT
    assert price.working.notes == ("This sells below cost.",)


def test_the_working_of_a_price_shows_every_step():
    rule = PriceRule(
        label="at a market", rule=Rule.MARGIN, value_pct100=6_000, fees_pct100=1_000, tax_pct100=2_000
    )
    working = compute_price(50 * UNIT, replace(rule, step_micro=UNIT)).working
    assert [step.result for step in working.steps] == ["125.0000", "138.8889", "166.6667", "167.00", "27.83"]
    assert working.result == "167.00"


def test_metal_is_valued_again_at_todays_price_and_all_else_stays():
    # 30.00 of 42.00 was 10 g of metal with 0.5 g lost; a gram costs 4.00 today.
    replaced_micro, working = replace_metal(42 * UNIT, 30 * UNIT, 10_000, 500, 4_000 * UNIT)
    assert replaced_micro == 54 * UNIT
    assert working.result == "54.00"


def test_prices_are_told_on_cost_and_on_todays_metal():
    retail = PriceRule(label="to a customer", rule=Rule.MARGIN, value_pct100=7_500)
    prices = compute_prices(42 * UNIT, 54 * UNIT, [GALLERY, retail])
    assert [(pair.on_cost.asked_micro, pair.on_today.asked_micro) for pair in prices] == [
        (84 * UNIT, 108 * UNIT),
        (168 * UNIT, 216 * UNIT),
    ]


def test_without_a_price_of_metal_today_there_is_only_the_price_on_cost():
    (pair,) = compute_prices(42 * UNIT, None, [GALLERY])
    assert pair.on_today is None


def test_the_margin_that_a_price_leaves():
    assert compute_margin_pct100(125 * UNIT, 50 * UNIT) == 6_000
    assert compute_margin_pct100(40 * UNIT, 50 * UNIT) == -2_500
    assert compute_margin_pct100(0, 50 * UNIT) is None
