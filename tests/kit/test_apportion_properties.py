from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from studio.kit.apportion import allocate_largest_remainder, round_to_add_up

TOTALS = st.integers(-(10**15), 10**15)
WEIGHTS = st.lists(st.integers(0, 10**12), min_size=1, max_size=20)


@st.composite
def tables(draw):
    width = draw(st.integers(1, 6))
    cell = st.one_of(st.just(0), st.integers(-(10**7), 10**7))
    return draw(st.lists(st.lists(cell, min_size=width, max_size=width), min_size=1, max_size=8))


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


@given(tables(), st.sampled_from([1, 7, 100, 10_000]))
def test_rows_columns_and_total_add_up_as_printed(matrix, unit):
    table = round_to_add_up(matrix, unit)
    assert tuple(sum(row) for row in table.cells) == table.row_totals
    assert tuple(sum(column) for column in zip(*table.cells, strict=True)) == table.column_totals
    assert sum(table.row_totals) == sum(table.column_totals) == table.total
    assert abs(table.total - sum(map(sum, matrix))) * 2 <= unit


@given(tables(), st.sampled_from([7, 100, 10_000]))
def test_every_cell_is_a_multiple_beside_its_exact_value(matrix, unit):
    table = round_to_add_up(matrix, unit)
    for shown, exact in zip(table.cells, matrix, strict=True):
        for printed, cell in zip(shown, exact, strict=True):
            assert printed % unit == 0
            assert abs(printed - cell) < unit
            assert cell or printed == 0
