"""Which packs to order, against every order there is."""

from fractions import Fraction
from itertools import product
from time import process_time

from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.core import choosing_search
from inventory.core.choosing import (
    Ahead,
    Line,
    Need,
    Pack,
    Terms,
    compute_carriage,
    compute_cost_used,
    compute_economic_order,
    make_part,
)
from inventory.core.choosing_search import choose_order
from tests.thorough import examples

DAY = Fraction(1)
YEAR = Ahead(days=365, holding_pct100=1000)


def _pack(key, supplier, quantity, *prices, material=1, keeps=None):
    return Pack(key, supplier, material, quantity, prices, keeps)


def _need(least=10, taken=10, still=0, a_day=DAY, most=40, material=1):
    return Need(material, least, taken, still, a_day, most)


def _counts(choice):
    return {line.pack.key: line.packs for line in choice.lines}


def test_the_textbooks_order_is_the_textbooks():
    """Demand 9,600, an order 75, holding 16: 300 at a time, 4,800 a year (Stevenson, Operations Management)."""
    best = compute_economic_order(9_600, 75, 16)
    assert (best.quantity, best.yearly_micro) == (300, 4_800)


def test_nothing_is_used_and_nothing_ordered():
    assert compute_economic_order(0, 75, 16).quantity == 0


def test_a_large_pack_wins_while_it_is_used_up_in_time():
    large, small = _pack(1, 1, 25, (1, 100)), _pack(2, 1, 5, (1, 30))
    terms = {1: Terms(1, ((0, 10),))}
    keeps = choose_order([_need(most=25)], [large, small], terms, Ahead(30))
    assert _counts(keeps) == {1: 1}
    # Of 25 only 10 are used before they are stale: two small packs cost 60, the large one 100.
    stale = [Pack(one.key, 1, 1, one.quantity, one.prices, 10) for one in (large, small)]
    choice = choose_order([_need(most=25)], stale, terms, Ahead(30))
    assert _counts(choice) == {2: 2}
    assert compute_cost_used(Line(stale[0], 1), terms[1], _need()) == Fraction(110, 10)
    assert compute_cost_used(Line(stale[1], 2), terms[1], _need()) == Fraction(70, 10)


def test_a_price_that_breaks_and_carriage_that_ends_are_both_seen():
    """Three cost 30 and 12 to bring; four at the lower price cost 36 and come for nothing, with one left worth 9."""
    packs = [_pack(1, 1, 1, (1, 10), (4, 9))]
    terms = {1: Terms(1, ((0, 12), (36, 0)))}
    choice = choose_order([_need(3, 3, most=6)], packs, terms, Ahead(3))
    assert _counts(choice) == {1: 4} and choice.total_micro == 27


def test_one_parcel_of_two_materials_is_cheaper_than_two():
    packs = [_pack(1, 1, 5, (1, 50)), _pack(2, 2, 5, (1, 45)), _pack(3, 1, 5, (1, 50), material=2)]
    terms = {1: Terms(1, ((0, 20),)), 2: Terms(2, ((0, 20),))}
    choice = choose_order([_need(5, 5, most=5), _need(5, 5, most=5, material=2)], packs, terms, Ahead(5))
    assert _counts(choice) == {1: 1, 3: 1} and choice.carriage_micro == {1: 20}


def test_below_the_least_order_nothing_is_sent():
    packs, terms = [_pack(1, 1, 1, (1, 10))], {1: Terms(1, least_micro=40)}
    assert _counts(choose_order([_need(2, 2, most=8)], packs, terms, Ahead(2))) == {1: 4}
    assert choose_order([_need(2, 2, most=3)], packs, terms, Ahead(2)) is None


def test_what_nobody_offers_is_not_ordered_and_what_is_not_needed_need_not_come():
    assert choose_order([_need()], [], {}, YEAR) is None
    choice = choose_order([_need(least=0, taken=0)], [_pack(1, 1, 5, (1, 50))], {1: Terms(1)}, YEAR)
    assert choice.lines == () and choice.total_micro == 0


def test_money_in_stock_costs_until_it_is_used():
    """Ten used one a day from the tenth day on, worth 365 in all, at 10 % a year: a mean of 15 days each."""
    part = make_part(_need(still=10), (Line(_pack(1, 1, 10, (1, 365)), 1),), {1: Terms(1)}, YEAR, Fraction(0))
    assert part.holding_micro == Fraction(365 * 15, 10 * 365)


def test_what_ends_first_is_used_first():
    """Four last five days and six last for ever, used one a day after two that are here: three of the four in time."""
    lines = (Line(_pack(1, 1, 6, (1, 60)), 1), Line(_pack(2, 1, 4, (1, 20), keeps=5), 1))
    part = make_part(_need(still=2), lines, {1: Terms(1)}, YEAR, Fraction(1))
    assert (part.used, part.stale) == (9, 1)


def _every_order(needs, packs, terms, ahead):
    """Each count of each pack, without a thought."""
    for counts in product(range(8), repeat=len(packs)):
        lines = [Line(pack, count) for pack, count in zip(packs, counts, strict=True) if count]
        carriage = compute_carriage(lines, terms)
        if carriage is None:
            continue
        total = Fraction(sum(carriage.values()))
        for need in needs:
            own = tuple(line for line in lines if line.pack.material == need.material)
            quantity = sum(line.quantity for line in own)
            within = max(need.most, need.least)
            if quantity < need.least or len(own) > 2:
                break
            if own and any(quantity - line.pack.quantity >= within for line in own):
                break
            lowest = min(
                Fraction(min(price for _, price in pack.prices), pack.quantity)
                for pack in packs
                if pack.material == need.material
            )
            total += make_part(need, own, terms, ahead, lowest).own_micro
        else:
            yield total


_PRICES = st.tuples(st.integers(10, 60), st.integers(1, 9)).map(
    lambda one: ((1, one[0]), (3, one[0] - one[1]))
)
_PACKS = st.tuples(st.integers(1, 2), st.integers(2, 6), _PRICES, st.sampled_from((None, 4, 9)))
_TERMS = st.tuples(st.integers(0, 40), st.integers(20, 150), st.integers(0, 60), st.booleans())


@settings(max_examples=examples(30))
@given(
    st.lists(_PACKS, min_size=2, max_size=4), st.tuples(_TERMS, _TERMS), st.integers(2, 9), st.integers(0, 4)
)
def test_no_order_costs_less(made, made_terms, least, still):
    packs = [
        Pack(key, supplier, 1 + key % 2, quantity, prices, keeps)
        for key, (supplier, quantity, prices, keeps) in enumerate(made)
    ]
    terms = {
        supplier: Terms(supplier, ((0, carriage), (free, 0)), False, least_micro, 500 if duty else 0)
        for supplier, (carriage, free, least_micro, duty) in enumerate(made_terms, 1)
    }
    needs = [Need(1, least, least, still, Fraction(1, 2), 12), Need(2, 3, 2, 0, Fraction(1), 8)]
    choice = choose_order(needs, packs, terms, Ahead(20, 2_000))
    every = list(_every_order(needs, packs, terms, Ahead(20, 2_000)))
    assert (choice.total_micro if choice else None) == min(every, default=None)


def test_four_materials_at_three_suppliers_take_no_time_to_wait_for():
    """Six offers of each, with carriage that ends and prices that fall: processor time, however busy the machine is."""
    packs = [
        Pack(
            10 * material + offer,
            offer % 3,
            material,
            kg * 1_000_000,
            ((1, kg * (3_000_000 - 20_000 * kg)), (4, kg * (2_800_000 - 20_000 * kg))),
            (None, 180, 365)[(material + offer) % 3],
        )
        for material in range(4)
        for offer, kg in enumerate((1, 2, 5, 10, 20, 25))
    ]
    terms = {one: Terms(one, ((0, 9_000_000 + one), (120_000_000, 0)), one == 2) for one in range(3)}
    needs = [
        _need(least, least * 3 // 4, 2_000_000, Fraction(least, 60), least * 3, material)
        for material, least in enumerate((9_000_000, 21_000_000, 4_000_000, 33_000_000))
    ]
    begun = process_time()
    assert choose_order(needs, packs, terms, Ahead(56, 1_000)) is not None
    assert process_time() - begun < 0.15


def test_where_there_are_too_many_ways_the_best_found_is_given_and_not_called_sure(monkeypatch):
    """Two materials at two suppliers: with no step left, each at its cheapest from one of them."""
    packs = [
        _pack(10 * material + supplier, supplier, 5, (1, 50 + supplier), material=material)
        for material in (1, 2)
        for supplier in (1, 2)
    ]
    needs, terms = [_need(material=1), _need(material=2)], {one: Terms(one, ((0, 9),)) for one in (1, 2)}
    sure = choose_order(needs, packs, terms, Ahead(10))
    monkeypatch.setattr(choosing_search, "MOST_TRIED", 0)
    found = choose_order(needs, packs, terms, Ahead(10))
    assert (sure.is_sure, found.is_sure) == (True, False)
    assert found.lines and found.total_micro >= sure.total_micro
