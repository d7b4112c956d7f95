"""What an alloy costs to buy again, the metal price at a floor, the tax of a bill, and casting for others."""

from datetime import date
from fractions import Fraction

import pytest

from costing.core.floor import find_highest_metal
from costing.core.metal_price import (
    DatedPrice,
    Premium,
    choose_alloy_price,
    compute_alloy_price,
    exact_alloy_per_kg,
    exact_fine_per_kg,
    say_age,
)
from costing.core.others import Terms, WorkDone, compute_piece_work, compute_work_price
from costing.core.tax import compute_bill_taxes
from costing.forms.price_lines import MOST_LINES, read_price_lines
from studio.kit.printing import print_money
from tests.support import plain, told

UNIT = 1_000_000
TODAY = date(2026, 11, 28)
SILVER = DatedPrice(31_103_477, "ozt", date(2026, 11, 1))


def test_sterling_costs_its_fine_silver_and_the_makers_premium():
    """An ounce troy is 31.1034768 g (exact), so at 31.103477 an ounce a gram is 1.00; 0.925 of it, 4 % and 0.05."""
    price = compute_alloy_price(SILVER, "silver", 925, Premium(400, 50 * UNIT))
    assert price.micro_per_kg == 1_012_000_006
    assert "1.0120" in plain(price.working.result)
    exact = exact_alloy_per_kg(SILVER.exact_per_kg, 925, Premium(400, 50 * UNIT))
    assert exact_fine_per_kg(exact, 925, Premium(400, 50 * UNIT)) == SILVER.exact_per_kg


def test_the_alloys_own_price_wins_where_it_is_as_new():
    fine = compute_alloy_price(SILVER, "silver", 925, Premium())
    own = DatedPrice(1_100_000, "g", SILVER.day)
    assert choose_alloy_price(own, fine).micro_per_kg == 1_100 * UNIT
    assert choose_alloy_price(DatedPrice(1, "g", date(2026, 10, 31)), fine) is fine
    assert choose_alloy_price(None, fine) is fine
    assert choose_alloy_price(None, None) is None


def test_a_price_beyond_the_studios_limit_is_said_to_be_old():
    assert say_age("silver", date(2026, 11, 14), TODAY, 14) == ""
    assert "1 Nov 2026, 27 days old" in plain(say_age("silver", SILVER.day, TODAY, 14))


def test_lines_are_read_as_people_and_programs_write_them():
    read = read_price_lines(
        '\ufeffDay,Price\r\n2026-11-02 28.40\n01/11/2026;28,40\n\n"2026-11-03","0.98 per g"\n2026-11-04\t1,028.4\n',
        "ozt",
        TODAY,
    )
    assert read.problems == ()
    assert [(price.day.day, price.price_micro, price.per_unit) for price in read.prices] == [
        (1, 28_400_000, "ozt"),
        (2, 28_400_000, "ozt"),
        (3, 980_000, "g"),
        (4, 1_028_400_000, "ozt"),
    ]


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("28.40", "Write a day and a price"),
        ("2026-02-30 28.40", "There is no such day"),
        ("2027-01-01 28.40", "up to today"),
        ("1999-01-01 28.40", "from 2000 on"),
        ("2026-11-01 28.40 per oz", "Ounces troy or"),
        ("2026-11-01 1,028", "Is 1,028 meant as"),
        ("2026-11-01 -3", "cannot be below zero"),
        ("2026-11-01 0", "more than"),
        ("2026-11-01 much", "cannot be read"),
        ("2026-11-01 " + "1" * 400, "too long"),
        ("2026-11-05 28", "stands in another line"),
    ],
)
def test_each_line_that_cannot_be_taken_is_named(line, says):
    read = read_price_lines(f"2026-11-05 28\n{line}", "ozt", TODAY)
    assert len(read.prices) == 1
    assert read.problems[0].startswith("Line 2, ")
    assert says in plain(read.problems[0])


def test_too_many_lines_are_refused_whole():
    assert "at most 4,000" in read_price_lines("x\n" * (MOST_LINES + 1), "g", TODAY).problems[0]


def test_the_metal_price_at_which_a_floor_is_reached_is_exact_on_its_grid():
    """By closed form: 12 + 3.7 x is at most 100 up to x = 88 ÷ 3.7 = 23.78378..., on four decimals 23.7837."""
    found = find_highest_metal(lambda x: 12 * UNIT + Fraction(37, 10) * x <= 100 * UNIT)
    assert found == 23_783_700
    assert find_highest_metal(lambda x: True) is None
    assert find_highest_metal(lambda x: False) == -1


def test_tax_line_by_line_and_once_for_the_bill():
    """Three lines of 1.03 at 20 % (arithmetic): 0.206 is 0.21 each and 0.63; of 3.09 it is 0.618, so 0.62."""
    lines = [(1_030_000, 2_000)] * 3
    assert compute_bill_taxes(lines, by_line=True) == (210_000,) * 3
    assert compute_bill_taxes(lines, by_line=False) == (210_000, 210_000, 200_000)


def test_half_a_penny_of_tax_goes_up_and_less_goes_down():
    """HMRC VATREC12030 (read): below 0.5 down, 0.5 and more up. 0.025 and 0.024 at 20 % of 0.125 and 0.12."""
    assert compute_bill_taxes([(125_000, 2_000), (120_000, 2_000)], by_line=True) == (30_000, 20_000)


def test_rates_of_a_bill_are_rounded_apart():
    taxes = compute_bill_taxes([(1_030_000, 2_000), (1_030_000, 500), (0, 500)], by_line=False)
    assert taxes == (210_000, 50_000, 0)


def test_casting_for_others_counts_grams_flasks_moulds_and_metal():
    """42.5 g at 1.20, a flask at 18, two moulds at 25; their metal 42.5 × 1.01 and 10 %: 51 + 18 + 50 + 47.22."""
    terms = Terms(
        label="for friends",
        gram_micro_per_kg=1_200 * UNIT,
        flask_micro=18 * UNIT,
        mould_micro=25 * UNIT,
        metal_pct100=1_000,
    )
    # Castings of one flask share its price by their grams, to the penny.
    masses = (7_100, 7_100, 28_300)
    shares = [compute_piece_work(masses, place, terms) for place in range(3)]
    assert sum(micro for micro, _ in shares) == compute_work_price(WorkDone(cast_mg=42_500), terms)[0]
    assert shares[0][1].result == print_money(shares[0][0]) and not shares[0][0] % 10_000
    own, working = compute_work_price(WorkDone(cast_mg=42_500, moulds=2), terms)
    assert own == 119 * UNIT
    assert "flasks: 1 × 18.00" in told(working)
    bought, working = compute_work_price(
        WorkDone(cast_mg=42_500, moulds=2, metal_micro_per_kg=1_010 * UNIT), terms
    )
    assert bought == 166_220_000
    assert "bought from the studio" in told(working)
