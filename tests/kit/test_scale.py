"""Weights in a column: the decimals of the scale, the same for all, and sums that are the sums of what is shown."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.kit.documents import (
    Column,
    Filled,
    Table,
    fill_table,
    print_cell,
    round_sums,
    summed,
    summed_apart,
)
from studio.kit.measures import MASS
from studio.kit.scale import round_weights, scale_decimals, showing_scale
from tests.support import plain

PIECES = Table(
    "Pieces",
    (Column("name", "Piece"), Column("mass", "Grams", "mass")),
    (("Charm 1", 5_705), ("Charm 2", 5_601), ("Charm 3", 6_016), ("Stem", None), ("Bangle", 30_810)),
    ("Together", 48_132),
)


@pytest.mark.parametrize(
    ("division_mg", "shown"),
    [
        (1, "1,005.705 g"),
        (2, "1,005.705 g"),
        (5, "1,005.705 g"),
        (10, "1,005.71 g"),
        (50, "1,005.71 g"),
        (100, "1,005.7 g"),
        (1_000, "1,006 g"),
    ],
)
def test_a_column_has_the_decimals_of_the_scale(division_mg: int, shown: str) -> None:
    with showing_scale(division_mg):
        assert plain(MASS.print_in_column(1_005_705)) == shown


def test_a_scale_of_hundredths_is_taken_where_no_studio_says_another() -> None:
    assert plain(MASS.print_in_column(2_000_000)) == "2,000.00 g"
    assert MASS.print_in_column(None) == "–"


def test_a_single_figure_keeps_the_milligrams_that_it_has() -> None:
    assert plain(MASS.print(5_705)) == "5.705 g"


def test_shares_finer_than_the_scale_add_up_to_the_total_that_is_shown() -> None:
    table = round_sums(PIECES)
    column = PIECES.columns[1]
    shown = [plain(print_cell(column, row[1])) for row in table.rows]
    assert shown[3:] == ["–", "30.81 g"]
    total = print_cell(column, table.totals[1] if table.totals else None)
    assert plain(total) == "48.13 g"
    assert sum(Decimal(text.split()[0]) for text in shown if text != "–") == Decimal("48.13")
    # Files get what is in the book.
    assert PIECES.rows[0][1] == 5_705


@pytest.mark.parametrize(
    ("kind", "amounts", "shown"),
    [
        ("money", [1_005_000, 1_005_000, 1_005_000], ["1.01", "1.01", "1.00", "3.02"]),
        ("money", [333_333, 333_333, 333_334], ["0.33", "0.33", "0.34", "1.00"]),
        ("fine", [1_500, 1_500, -600], ["0.002 g", "0.001 g", "\N{MINUS SIGN}0.001 g", "0.002 g"]),
        ("energy", [5, 5, 5], ["0.01 kWh", "0.01 kWh", "0.00 kWh", "0.02 kWh"]),
    ],
)
def test_any_column_adds_up_to_the_sum_below_it(kind: str, amounts: list[int], shown: list[str]) -> None:
    column = Column("amount", "Amount", kind)
    exact = fill_table(
        "Sums", [Filled(Column("what", "What"), ["a", "b", "c"], "All"), summed(column, amounts)]
    )
    table = round_sums(exact)
    rows = [*table.rows, *([table.totals] if table.totals else [])]
    assert [plain(print_cell(column, row[1])) for row in rows] == shown
    assert [row[1] for row in exact.rows] == amounts


@pytest.mark.parametrize(
    ("amounts", "last", "note"),
    [
        ([1_004_000, 1_004_000, 1_004_000], "All, before rounding", "the total is that of the exact ones."),
        ([1_004_000, 1_006_000, 1_000_000], "All", ""),
    ],
)
def test_figures_that_stand_elsewhere_keep_their_rounding_and_the_total_says_so(
    amounts: list[int], last: str, note: str
) -> None:
    table = fill_table(
        "Sums",
        [
            Filled(Column("what", "What"), ["a", "b", "c"], "All"),
            summed_apart(Column("cost", "Cost", "money"), amounts, 10_000),
        ],
    )
    assert table.totals == (last, 3_010_000)
    assert table.note.endswith(note) and bool(note) == bool(table.note)
    assert round_sums(table).rows == table.rows


def test_a_total_of_other_rows_than_these_stays_what_it_is() -> None:
    kept = round_sums(Table("Kept", PIECES.columns, PIECES.rows, ("Charge", 99_999)))
    assert kept.totals == ("Charge", 99_999)


@given(
    st.lists(st.integers(-(10**9), 10**9), max_size=40),
    st.sampled_from([1, 2, 5, 10, 20, 50, 100, 200, 500, 1_000, 5_000]),
)
def test_each_is_beside_what_it_is_and_all_add_up(masses_mg: list[int], division_mg: int) -> None:
    with showing_scale(division_mg):
        unit = 10 ** (3 - scale_decimals())
        shown = round_weights(masses_mg)
        for exact, rounded in zip(masses_mg, shown, strict=True):
            assert rounded % unit == 0 and abs(rounded - exact) < unit
        assert abs(sum(shown) - sum(masses_mg)) * 2 <= unit
        assert [one for one in masses_mg if one % unit == 0] == [
            rounded for exact, rounded in zip(masses_mg, shown, strict=True) if exact % unit == 0
        ]
