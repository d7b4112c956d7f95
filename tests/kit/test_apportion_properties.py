from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from studio.kit.rounding import allocate_largest_remainder

TOTALS = st.integers(-(10**15), 10**15)
WEIGHTS = st.lists(st.integers(0, 10**12), min_size=1, max_size=20)


@given(TOTALS, WEIGHTS)
def test_shares_always_add_up_to_the_whole(total, weights):
    assert sum(allocate_largest_remainder(total, weights)) == total


@given(TOTALS, WEIGHTS)
def test_no_share_is_a_whole_unit_from_its_exact_part(total, weights):
    whole = sum(weights)
    exact = [
        Fraction(total * weight, whole) if whole else Fraction(total, len(weights)) for weight in weights
    ]
    shares = allocate_largest_remainder(total, weights)
    assert all(abs(share - part) < 1 for share, part in zip(shares, exact, strict=True))
