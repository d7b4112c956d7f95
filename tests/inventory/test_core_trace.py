"""Shares through remelts: they add up exactly, and agree with fractions that are never rounded."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from inventory.core.trace import WHOLE, Portion, of_tin, round_became, trace_back, trace_on


@st.composite
def histories(draw):
    """Melts and tins in any order, each of fresh lots, of what came back from melts, and of what tins held before."""
    mixes, lots, made_by = {}, [1, 2], {}
    for number in range(1, draw(st.integers(1, 8)) + 1):
        chosen = draw(st.lists(st.sampled_from(lots), min_size=1, max_size=4, unique=True))
        mix = of_tin(100 + number) if draw(st.booleans()) else number
        mixes[mix] = [Portion(lot, draw(st.integers(1, 90_000)), made_by.get(lot)) for lot in chosen]
        lots += [100 + number, 200 + number]
        # One came out of the melt or the tin, the other was bought meanwhile.
        made_by[100 + number] = mix
    mixes[99] = [Portion(lot, draw(st.integers(1, 90_000)), made_by.get(lot)) for lot in lots[-2:]]
    return mixes


def exact(cast, charges) -> dict[int, Fraction]:
    """The same by asking each portion in turn for its own."""
    total = sum(portion.mass_mg for portion in charges[cast])
    shares: dict[int, Fraction] = {}
    for portion in charges[cast]:
        part = Fraction(portion.mass_mg, total)
        inner = exact(portion.made_by, charges) if portion.made_by else {portion.lot: Fraction(1)}
        for lot, share in inner.items():
            shares[lot] = shares.get(lot, Fraction(0)) + part * share
    return shares


def deepest(mix, mixes) -> int:
    """Through how many melts the metal went that went through most."""
    before = [deepest(portion.made_by, mixes) for portion in mixes[mix] if portion.made_by]
    return max(before, default=0) + (mix > 0)


@given(histories())
def test_shares_add_up_and_agree_with_exact_fractions(charges):
    cast = max(charges)
    shares, melts = trace_back(cast, charges)
    wanted = exact(cast, charges)
    assert sum(shares.values()) == WHOLE
    assert melts == deepest(cast, charges)
    for lot in {*shares, *wanted}:
        assert abs(Fraction(shares.get(lot, 0), WHOLE) - wanted.get(lot, 0)) <= Fraction(
            len(charges) * 8, WHOLE
        )


@given(histories())
def test_forward_says_what_backward_says(charges):
    for lot in (1, 2):
        onward = trace_on(lot, charges)
        for cast in charges:
            back = exact(cast, charges).get(lot, 0)
            assert abs(Fraction(onward.get(cast, 0), WHOLE) - back) <= Fraction(len(charges) * 8, WHOLE)


def test_a_button_melted_three_times_over():
    charges = {
        1: [Portion(1, 60_000), Portion(2, 40_000)],
        2: [Portion(11, 50_000, 1), Portion(1, 50_000)],
        3: [Portion(12, 20_000, 2), Portion(3, 20_000)],
    }
    # 0.5 x 0.5 x 0.4 of lot 2; lot 1 has 0.5 x (0.5 x 0.6 + 0.5).
    assert trace_back(3, charges) == ({1: 4 * WHOLE // 10, 2: WHOLE // 10, 3: WHOLE // 2}, 3)
    assert trace_on(2, charges) == {1: 4 * WHOLE // 10, 2: 2 * WHOLE // 10, 3: WHOLE // 10}
    # A lot that came back is traced from where it stands.
    assert trace_on(12, charges) == {3: WHOLE // 2}


def test_a_tin_is_no_melt_and_gives_each_lot_its_share():
    mixes = {
        1: [Portion(1, 60_000), Portion(2, 40_000)],
        # 30 g of the button of cast 1 with 10 g of lot 3, some of it taken apart, and cast with as much of lot 4.
        of_tin(20): [Portion(11, 30_000, 1), Portion(3, 10_000, of_tin(3))],
        of_tin(21): [Portion(20, 12_000, of_tin(20))],
        2: [Portion(21, 10_000, of_tin(21)), Portion(4, 10_000, of_tin(4))],
    }
    parts = {1: 225, 2: 150, 3: 125, 4: 500}
    assert trace_back(2, mixes) == ({lot: part * WHOLE // 1000 for lot, part in parts.items()}, 2)
    tins = {of_tin(20): 45 * WHOLE // 100, of_tin(21): 45 * WHOLE // 100}
    assert trace_on(1, mixes) == {1: 6 * WHOLE // 10, 2: 225 * WHOLE // 1000} | tins
    assert trace_on(20, mixes) == {of_tin(21): WHOLE, 2: WHOLE // 2}
    assert trace_back(of_tin(21), mixes)[0] == {1: 45 * WHOLE // 100, 2: 3 * WHOLE // 10, 3: WHOLE // 4}


@given(st.lists(st.integers(-5 * WHOLE, 90 * WHOLE), min_size=1, max_size=6), st.integers(0, 90 * WHOLE))
def test_what_a_lot_became_adds_up_to_it_and_each_part_is_its_nearest_or_the_next(parts, rest):
    named = {str(place): part for place, part in enumerate([*parts, max(rest - sum(parts), 0)])}
    whole = sum(named.values())
    total = (whole + WHOLE // 2) // WHOLE
    found = round_became(named, total)
    assert sum(found.values()) == total
    assert all(abs(found[key] * WHOLE - part) <= len(named) * WHOLE for key, part in named.items())
