"""Whatever is melted, assayed and paid, a settlement loses and makes nothing: grams, fine metal, cost and charges."""

from hypothesis import given
from hypothesis import strategies as st

from inventory.core.ledger import Amount, total_of
from inventory.core.refiners_paper import compute_settlement
from inventory.core.refining import Charges, Melt, compute_payable, compute_worth
from inventory.core.settling import split_settlement


@st.composite
def settlements(draw):
    quantity = draw(st.integers(1, 3_000_000))
    part = Amount(quantity, draw(st.integers(0, quantity * 1000)), draw(st.integers(0, 10**12)))
    melt = Melt(quantity, draw(st.integers(0, quantity * 102 // 100)), draw(st.integers(0, 100_000)))
    payable_ug = compute_payable(melt.fine_ug, draw(st.integers(0, 10_000)))
    metals, left = [], payable_ug
    for fineness in draw(st.lists(st.sampled_from([375, 800, 925, 999, 1000]), max_size=3)):
        mass_mg = draw(st.integers(0, left // fineness))
        metals.append((mass_mg, mass_mg * fineness))
        left -= mass_mg * fineness
    return part, melt, payable_ug, metals, draw(st.integers(0, 10**10))


@given(settlements())
def test_nothing_is_lost_or_made(one):
    part, melt, payable_ug, metals, charges = one
    found = split_settlement(part, melt.melted_mg, melt.fine_ug, payable_ug, metals, charges)
    backs = [back.amount for back in found.metals]
    out = total_of([found.lost, *backs, found.paid, found.kept])
    assert out + Amount(fine_ug=found.assay_ug) == part + found.gained
    amounts = [found.lost, found.gained, found.paid, found.kept, *backs]
    assert all(min(one.quantity, one.fine_ug, one.cost_micro) >= 0 for one in amounts)
    for (mass_mg, fine_ug), back in zip(metals, found.metals, strict=True):
        assert (back.amount.quantity + back.added_mg, back.amount.fine_ug) == (mass_mg, fine_ug)
    assert found.paid.fine_ug == payable_ug - sum(fine for _, fine in metals)
    assert 0 <= sum(back.fee_micro for back in found.metals) <= charges


@given(settlements(), st.integers(0, 10**11))
def test_the_money_is_what_was_paid_for_less_the_charges(one, price_micro):
    _, melt, payable_ug, metals, charges = one
    metal_ug = sum(fine for _, fine in metals)
    pct100 = 9_500
    payable_ug = compute_payable(melt.fine_ug, pct100)
    if metal_ug > payable_ug:
        return
    found = compute_settlement(melt, pct100, Charges(charges), (price_micro, "ozt"), metal_ug)
    assert found.kept_ug + found.metal_ug + found.paid_ug == found.fine_ug == melt.fine_ug
    assert found.money_micro == compute_worth(payable_ug - metal_ug, (price_micro, "ozt")) - charges
