import pytest

from studio.kit.apportion import allocate_largest_remainder, round_to_add_up


def test_shares_follow_the_weights_and_add_up():
    assert allocate_largest_remainder(100, [1, 1, 1]) == [34, 33, 33]


def test_ties_go_to_the_earlier():
    assert allocate_largest_remainder(1, [5, 5]) == [1, 0]


def test_weights_of_nothing_share_equally():
    assert allocate_largest_remainder(7, [0, 0, 0]) == [3, 2, 2]


def test_a_zero_weight_beside_others_gets_nothing():
    assert allocate_largest_remainder(11, [0, 3, 0, 4]) == [0, 5, 0, 6]


def test_a_negative_total_is_the_mirror():
    assert allocate_largest_remainder(-100, [1, 1, 1]) == [-34, -33, -33]


def test_nothing_to_share_is_nothing_each():
    assert allocate_largest_remainder(0, [3, 4]) == [0, 0]
    assert allocate_largest_remainder(0, []) == []


def test_a_negative_weight_is_refused():
    with pytest.raises(ValueError, match="below zero"):
        allocate_largest_remainder(5, [1, -1])


def test_sharing_with_nobody_is_refused():
    with pytest.raises(ValueError, match="nobody"):
        allocate_largest_remainder(5, [])


def test_every_sum_on_a_printed_cost_table_is_right():
    table = round_to_add_up([[1_004_000, 2_006_000], [3_004_000, 4_006_000]], 10_000)
    assert table.total == 10_020_000
    assert table.column_totals == (4_010_000, 6_010_000)
    assert [sum(row) for row in table.cells] == list(table.row_totals)
    assert [sum(column) for column in zip(*table.cells, strict=True)] == list(table.column_totals)


def test_a_piece_without_a_cost_line_is_never_charged_for_it():
    table = round_to_add_up([[3_333, 0], [3_333, 0], [3_334, 5_000]], 10_000)
    assert [row[1] for row in table.cells[:2]] == [0, 0]


def test_credits_beside_costs_still_add_up():
    table = round_to_add_up([[15, -7], [-4, 3], [0, -6]], 10)
    assert table.total == 0
    assert sum(table.column_totals) == table.total == sum(table.row_totals)
    assert table.cells[2][0] == 0


def test_alike_pieces_share_the_odd_pennies_between_them():
    thirds = [[3_334] * 6, [3_333] * 6, [3_333] * 6]
    equal = [[3_333] * 6] * 3
    assert round_to_add_up(thirds, 10_000).total == 60_000
    assert set(round_to_add_up(equal, 10_000).row_totals) == {20_000}


def test_a_whole_cell_keeps_its_figure():
    assert round_to_add_up([[20_000, 5], [40_000, 5]], 10_000).column_totals == (60_000, 0)


def test_an_empty_table_adds_up_to_nothing():
    table = round_to_add_up([], 10)
    assert (table.cells, table.total) == ((), 0)


def test_a_ragged_table_is_the_programmers_mistake():
    with pytest.raises(ValueError, match="same columns"):
        round_to_add_up([[1], [1, 2]], 10)


def test_a_unit_below_one_is_the_programmers_mistake():
    with pytest.raises(ValueError, match="at least 1"):
        round_to_add_up([[1]], 0)
