"""Shares through remelts: they add up exactly, and agree with fractions that are never rounded."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from inventory.core.trace import WHOLE, Portion, trace_back, trace_on


@st.composite
def histories(draw):
    """Casts by number, each charged from fresh lots and from what came back of casts before it."""
    charges, lots, made_by = {}, [1, 2], {}
    for cast in range(1, draw(st.integers(1, 8)) + 1):
        chosen = draw(st.lists(st.sampled_from(lots), min_size=1, max_size=4, unique=True))
        charges[cast] = [Portion(lot, draw(st.integers(1, 90_000)), made_by.get(lot)) for lot in chosen]
        lots += [100 + cast, 200 + cast]
        # One came back out of the crucible, the other was bought meanwhile.
        made_by[100 + cast] = cast
    return charges


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


@given(histories())
def test_shares_add_up_and_agree_with_exact_fractions(charges):
    cast = max(charges)
    shares, melts = trace_back(cast, charges)
    wanted = exact(cast, charges)
    assert sum(shares.values()) == WHOLE
    assert 1 <= melts <= len(charges)
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
