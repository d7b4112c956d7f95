"""What to ask for a piece."""

from dataclasses import replace

import pytest

from costing.core.price import (
    PriceRule,
    Rounding,
    Rule,
    compute_left,
    compute_price,
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


def test_without_a_step_a_price_is_left_as_it_is_shown():
    assert compute_price(41_000_100, GALLERY).asked_micro == 82_000_200


def test_rounding_up_starts_from_the_figure_that_is_shown():
    """12.500001 is shown as 12.5000, and four times that is 50.00: not 51.00 for a hair that nobody sees."""
    rule = replace(GALLERY, value_pct100=40_000, step_micro=UNIT)
    price = compute_price(12_500_001, rule)
    assert price.asked_micro == 50 * UNIT
    assert price.working.steps[0].result == "50.0000"
    # A figure that is shown above the step goes on to the next.
    assert compute_price(12_500_100, rule).asked_micro == 51 * UNIT


def test_a_gram_of_cheap_metal_is_told_with_all_its_digits():
    """Bronze at 9.35 a kilogram: 120 g and 1 g lost come to 1.13135, at 0.00935 a gram; arithmetic."""
    replaced_micro, working = replace_metal(2 * UNIT, UNIT, 120_000, 1_000, 9_350_000)
    assert replaced_micro == 2_131_350
    assert working.givens[-1].value == "0.00935"
    assert working.steps[1].text.replace("\u00a0", " ").endswith("(120.00 g + 1.00 g) × 0.00935")


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
    assert [(step.text.replace("\u00a0", " "), step.result) for step in working.steps] == [
        ("cost without metal: 42.00 − 30.00", "12.00"),
        ("metal and loss today: (10.00 g + 0.50 g) × 4.0000", "42.00"),
        ("12.00 + 42.00", "54.00"),
    ]


def test_what_a_price_leaves_is_told_as_margin_and_as_markup():
    left = compute_left(compute_price(50 * UNIT, replace(GALLERY, value_pct100=25_000)), 50 * UNIT)
    assert (left.micro, left.margin_pct100, left.markup_pct100) == (75 * UNIT, 6_000, 15_000)
    assert [step.result for step in left.steps] == ["75.0000", "60\u00a0%", "150\u00a0%"]


def test_tax_and_fees_are_gone_before_anything_is_left():
    rule = replace(GALLERY, fees_pct100=5_000, tax_pct100=2_000)
    left = compute_left(compute_price(50 * UNIT, rule), 50 * UNIT, rule.fees_pct100)
    # 240.00 with 40.00 tax and 100.00 fees: 100.00 comes in.
    assert (left.micro, left.margin_pct100, left.markup_pct100) == (50 * UNIT, 5_000, 10_000)
    assert left.steps[0].text == "comes in: 240.00 − 40.00 − 100.00"


def test_a_price_below_the_cost_leaves_less_than_nothing():
    left = compute_left(compute_price(50 * UNIT, replace(GALLERY, value_pct100=8_000)), 50 * UNIT)
    assert (left.micro, left.margin_pct100, left.markup_pct100) == (-10 * UNIT, -2_500, -2_000)


def test_a_piece_that_cost_nothing_has_no_markup_and_a_price_of_nothing_no_margin():
    left = compute_left(compute_price(0, GALLERY), 0)
    assert (left.micro, left.margin_pct100, left.markup_pct100) == (0, None, None)
