"""The money of a sale, by hand, and shares that add up to the last coin."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from costing.core.sale import SaleTerms, check_sale, compute_sale, compute_tax_back
from tests.workings import find_fault
from tests.workshop import money

MARKET = SaleTerms(
    tax="in", tax_pct100=2000, card_pct100=175, card_each_micro=money("0.20"), day_micro=money(45)
)


def test_three_pieces_at_a_market_by_hand() -> None:
    """120.00, 60.00 and 36.00 with tax of 20 % inside: 216 ÷ 6 = 36.00 of tax; card 1.75 % of 216.00 is 3.78, and 0.20.

    The table's 45.00 goes 100 : 50 : 30 by what is before tax.
    """
    sale = compute_sale([money(120), money(60), money(36)], MARKET)
    assert [line.tax_micro for line in sale.lines] == [money(20), money(10), money(6)]
    assert [line.day_micro for line in sale.lines] == [money(25), money("12.50"), money("7.50")]
    # 3.98 in the proportions 120 : 60 : 36 is 2.2111, 1.1056 and 0.6633: the coin left over goes to the 0.56.
    assert [line.card_micro for line in sale.lines] == [money("2.21"), money("1.11"), money("0.66")]
    assert sale.sum_of("left") == money(216 - 36 - 45) - money("3.98")
    assert sale.working.result == "131.02"
    assert not any(find_fault(step) for step in sale.working.steps)


def test_a_gallery_keeps_its_share_of_what_is_before_tax() -> None:
    gallery = SaleTerms(tax="in", tax_pct100=2000, commission_pct100=4000)
    [line] = compute_sale([money(120)], gallery).lines
    assert (line.before_tax_micro, line.commission_micro, line.left_micro) == (
        money(100),
        money(40),
        money(60),
    )


def test_a_discount_is_taken_off_before_tax() -> None:
    terms = SaleTerms(tax="out", tax_pct100=2000, discount_micro=money(10))
    first, second = compute_sale([money(70), money(30)], terms).lines
    assert (first.discount_micro, second.discount_micro) == (money(7), money(3))
    assert (first.paid_micro, second.paid_micro) == (money("75.60"), money("32.40"))


def test_tax_by_line_and_by_bill_differ_on_the_same_bill() -> None:
    """Three at 0.99 with 20 % inside: 0.165 in each, so 0.51 by line; 0.495 in 2.97 together, so 0.50 by bill.

    Half a penny and more goes up, less goes down (HMRC VATREC12030, read).
    """
    prices = [money("0.99")] * 3
    by_bill = SaleTerms(tax="in", tax_pct100=2000)
    by_line = replace(by_bill, by_line=True)
    assert [line.tax_micro for line in compute_sale(prices, by_line).lines] == [money("0.17")] * 3
    assert [line.tax_micro for line in compute_sale(prices, by_bill).lines] == [
        money("0.17"),
        money("0.17"),
        money("0.16"),
    ]
    added = SaleTerms(tax="out", tax_pct100=2000)
    # 20 % of 0.125 is 0.025 and goes up to 0.03; of 0.12 it is 0.024 and goes down to 0.02.
    assert compute_sale([money("0.125")], added).sum_of("tax") == money("0.03")
    assert compute_sale([money("0.12")], added).sum_of("tax") == money("0.02")


def test_fees_that_are_known_stand_instead_of_shares() -> None:
    known = replace(MARKET, card_fee_micro=money("1.23"), commission_sum_micro=money(2))
    sale = compute_sale([money(50), money(0)], known)
    assert (sale.sum_of("card"), sale.sum_of("commission")) == (money("1.23"), money(2))
    assert sale.lines[1].fees_micro == 0


def test_what_cannot_be_is_a_sentence() -> None:
    assert "Tick at least one piece" in check_sale([], MARKET)
    assert "more than the prices together" in check_sale([money(5)], replace(MARKET, discount_micro=money(6)))
    with pytest.raises(ValueError, match="nothing or more"):
        compute_sale([-1], MARKET)


def test_the_tax_of_a_refund() -> None:
    assert compute_tax_back(money(120), money(120), money(20)) == money(20)
    assert compute_tax_back(money("0.15"), money("1.20"), money("0.20")) == money("0.03")
    assert compute_tax_back(0, 0, 0) == 0
    with pytest.raises(ValueError, match="at most"):
        compute_tax_back(money(2), money(1), 0)


_SUM = st.integers(0, 300_000)
_PRICES = st.lists(st.integers(0, 90_000), min_size=1, max_size=30)


@given(
    prices=_PRICES,
    tax=st.sampled_from(["in", "out", "none"]),
    by_line=st.booleans(),
    rates=st.tuples(st.integers(0, 3000), st.integers(0, 6000), st.integers(0, 500)),
    sums=st.tuples(_SUM, _SUM, _SUM),
    discount=st.integers(0, 100),
)
def test_every_share_adds_up(prices, tax, by_line, rates, sums, discount) -> None:  # type: ignore[no-untyped-def]
    unit = 10_000
    micro = [price * unit for price in prices]
    rate, commission, card = rates
    each, day, shipping = (one * unit for one in sums)
    terms = SaleTerms(
        tax=tax,
        tax_pct100=rate,
        by_line=by_line,
        discount_micro=sum(prices) * discount // 100 * unit,
        commission_pct100=commission,
        card_pct100=card,
        card_each_micro=each,
        day_micro=day,
        shipping_micro=shipping,
    )
    sale = compute_sale(micro, terms)
    names = ("discount", "tax", "commission", "card", "day", "shipping")
    assert all(getattr(line, f"{name}_micro") % unit == 0 for line in sale.lines for name in names)
    assert sale.sum_of("discount") == terms.discount_micro
    assert (sale.sum_of("day"), sale.sum_of("shipping")) == (day, shipping)
    assert all(0 <= line.discount_micro <= line.price_micro for line in sale.lines)
    gone = sum(sale.sum_of(name) for name in names[1:])
    assert sale.sum_of("left") == sale.sum_of("paid") - gone
    # Never further from the exact sum than half a coin, by bill; by line half a coin for each.
    told = sale.sum_of("told")
    exact = told * rate / (10_000 + rate) if tax == "in" else told * rate / 10_000
    if tax != "none":
        assert abs(sale.sum_of("tax") - exact) <= unit / 2 * (len(prices) if by_line else 1) + 1
