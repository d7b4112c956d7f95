"""Tables of money as they are printed: what is shown adds up, and nothing is a whole unit from what it is."""

import pytest

from studio.kit.rounding import Cell, round_to_add_up, round_to_unit

PENNY = 10_000


def round_table(matrix, unit=PENNY, nearest=()):
    """A plain table of rows and columns, rounded."""
    cells = [
        Cell(amount, (row,), (column,))
        for row, amounts in enumerate(matrix)
        for column, amount in enumerate(amounts)
    ]
    rounded = iter(round_to_add_up(cells, unit, nearest))
    return [[next(rounded) for _ in amounts] for amounts in matrix]


def columns_of(matrix):
    return [sum(column) for column in zip(*matrix, strict=True)]


def test_a_line_of_forty_equal_shares_is_not_forty_rounded_shares():
    """52.00 over 40 pieces is 1.30 each; beside a line of 0.995 over them, 39.80, neither total may drift."""
    table = round_table([[1_300_000] * 40, [995_000] * 40, [333_333] * 40])
    assert [sum(row) for row in table] == [52_000_000, 39_800_000, 13_330_000]
    assert {sum(column) for column in zip(*table, strict=True)} <= {2_620_000, 2_630_000}


def test_rows_and_columns_of_thirds_keep_their_pennies():
    """Each row and each column is exactly a penny, and a third of a penny in every cell: a row gets just one."""
    table = round_table([[3_333, 3_333, 3_334], [3_333, 3_334, 3_333], [3_334, 3_333, 3_333]])
    assert [sum(row) for row in table] == columns_of(table) == [PENNY] * 3


def test_a_table_of_halves_is_rounded_without_drift():
    """Five rows of halves in five columns, 12.5 in all: rows and columns of 2.5 become 2 or 3, the whole 13."""
    table = round_table([[5_000] * 5] * 5)
    assert {sum(row) for row in table} | set(columns_of(table)) == {2 * PENNY, 3 * PENNY}
    assert sum(map(sum, table)) == 13 * PENNY


def test_a_piece_without_a_cost_line_is_never_charged_for_it():
    table = round_table([[3_333, 0], [3_333, 0], [3_334, 5_000]])
    assert [row[1] for row in table[:2]] == [0, 0]


def test_credits_beside_costs_still_add_up():
    table = round_table([[15, -7], [-4, 3], [0, -6]], 10)
    assert sum(map(sum, table)) == 0
    assert table[2][0] == 0


def test_a_whole_figure_stays():
    assert round_table([[20_000, 5], [40_000, 5]]) == [[20_000, 0], [40_000, 0]]


def test_a_row_that_stands_elsewhere_too_is_the_nearest():
    """0.496 and 0.694 make 1.19: were the second not asked for, either could give way."""
    table = round_table([[1_240] * 4, [1_735] * 4], nearest=(1,))
    assert sum(table[1]) == PENNY
    table = round_table([[1_240] * 4, [1_735] * 4], nearest=(0,))
    assert sum(table[0]) == 0
    assert sum(map(sum, table)) == PENNY


def test_sums_within_sums_are_beside_their_exact_value():
    """Two groups of two lines on three pieces and one set aside, a third of a penny everywhere."""
    cells = [
        Cell(3_333, ("ab"[line // 2], line, place == 3), (place == 3, place, "ab"[line // 2]))
        for line in range(4)
        for place in range(4)
    ]
    rounded = round_to_add_up(cells, PENNY)

    def total(path, *name):
        return sum(
            shown
            for shown, cell in zip(rounded, cells, strict=True)
            if getattr(cell, path)[: len(name)] == name
        )

    assert total("row") == 50_000  # 53,328
    for group in "ab":
        assert total("row", group) in (20_000, 30_000)  # 26,664
        assert all(total("column", place == 3, place, group) in (0, 10_000) for place in range(4))  # 6,666
    assert all(total("row", "ab"[line // 2], line, False) in (0, 10_000) for line in range(4))  # 9,999
    assert total("column", True) in (10_000, 20_000)  # 13,332


def test_the_same_table_is_always_rounded_alike():
    matrix = [[(7 * row + 11 * column) % 97 * 101 for column in range(9)] for row in range(8)]
    assert round_table(matrix) == round_table(matrix)


@pytest.mark.parametrize(
    ("amount", "printed"), [(5, 10), (4, 0), (-5, -10), (-4, 0), (15, 20), (20, 20), (0, 0)]
)
def test_a_figure_by_itself_is_the_nearest_and_a_half_goes_away_from_zero(amount, printed):
    assert round_to_unit(amount, 10) == printed


def test_nothing_is_rounded_to_nothing():
    assert round_to_add_up([], 10) == []


def test_a_unit_below_one_is_the_programmers_mistake():
    with pytest.raises(ValueError, match="at least 1"):
        round_to_add_up([Cell(1)], 0)
