"""Any table at all: every sum that is shown adds up, and stands beside its exact value."""

from collections import defaultdict

from hypothesis import given
from hypothesis import strategies as st

from studio.kit.rounding import Cell, round_to_add_up, round_to_unit

UNITS = st.sampled_from([1, 2, 3, 7, 100, 10_000])


@st.composite
def tables(draw):
    """Cells whose sums nest, to any depth, in two ways; many are zero, whole, or exactly between two units."""
    unit = draw(UNITS)
    amount = st.one_of(
        st.just(0),
        st.integers(-(10**7), 10**7),
        st.integers(-9, 9).map(lambda units: units * unit),
        st.integers(-9, 9).map(lambda halves: halves * unit // 2),
    )
    path = st.lists(st.integers(0, 2), max_size=3).map(tuple)
    return draw(st.lists(st.builds(Cell, amount, path, path), max_size=40)), unit


def sums_of(cells, amounts):
    """Every sum of the table by its name, rows and columns apart."""
    sums = defaultdict(int)
    for cell, amount in zip(cells, amounts, strict=True):
        for way, path in (("row", cell.row), ("column", cell.column)):
            for length in range(len(path) + 1):
                sums[way, path[:length]] += amount
    return sums


@given(tables())
def test_every_cell_and_every_sum_is_one_of_the_two_multiples_beside_its_exact_value(table):
    cells, unit = table
    exact = [cell.amount for cell in cells]
    rounded = round_to_add_up(cells, unit)
    shown, true = sums_of(cells, rounded), sums_of(cells, exact)
    pairs = [*zip(rounded, exact, strict=True), *((shown[name], true[name]) for name in true)]
    for printed, amount in pairs:
        assert printed % unit == 0
        assert abs(printed - amount) < unit, "so what is whole, and what is nothing, stays as it is"
    assert sum(rounded) == round_to_unit(sum(exact), unit)


@given(tables())
def test_the_row_that_stands_elsewhere_too_is_the_nearest_always(table):
    cells, unit = table
    exact = sums_of(cells, [cell.amount for cell in cells])
    for way, path in [name for name in exact if name[0] == "row" and name[1]][:4]:
        rounded = round_to_add_up(cells, unit, path)
        assert sums_of(cells, rounded)[way, path] == round_to_unit(exact[way, path], unit)
        whole = exact["row", ()]
        if (2 * whole % unit, 2 * exact[way, path] % unit) != (0, 0):
            assert sum(rounded) == round_to_unit(whole, unit)


@given(tables())
def test_the_order_of_nothing_changes_the_totals(table):
    cells, unit = table
    assert sum(round_to_add_up(cells[::-1], unit)) == sum(round_to_add_up(cells, unit))
