"""A strip is full, whatever went where."""

from hypothesis import given
from hypothesis import strategies as st

from studio.kit.charts import share_width


@given(st.lists(st.integers(0, 10**8), min_size=1, max_size=6).filter(any))
def test_a_strip_is_always_exactly_full(amounts: list[int]) -> None:
    widths = share_width(amounts)
    assert sum(widths) == 10_000
    assert all((width > 0) == (amount > 0) for width, amount in zip(widths, amounts, strict=True))
