import csv
import io
import time
from datetime import UTC, date, datetime
from decimal import Decimal

import openpyxl
import pytest

from studio.kit.export import (
    CSV_TYPE,
    attachment,
    safe_filename,
    write_csv,
)
from studio.kit.workbook import Sheet, write_xlsx, write_xlsx_sheets


def read_csv(content):
    return list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def read_sheet(content):
    return openpyxl.load_workbook(io.BytesIO(content)).worksheets[0]


def test_a_spreadsheet_sees_at_once_that_the_text_is_utf8():
    assert write_csv(["Metal"], [["Łódź"]]).startswith(b"\xef\xbb\xbf")


@pytest.mark.parametrize("typed", ["=1+1", "+44 20", "-5 g", "@home", "\tx", "\rx", "\n=1", "\uff1d1"])
def test_text_that_looks_like_a_formula_stays_text_in_csv(typed):
    assert read_csv(write_csv(["Note"], [[typed]]))[1] == ["'" + typed]


def test_a_heading_that_looks_like_a_formula_stays_text():
    assert read_csv(write_csv(["=cmd"], []))[0] == ["'=cmd"]


def test_a_number_below_zero_stays_a_number():
    assert read_csv(write_csv(["Grams"], [[Decimal("-12.410")]]))[1] == ["-12.410"]


def test_numbers_have_no_thousands_marks_and_no_exponent():
    assert read_csv(write_csv(["a", "b"], [[Decimal("1E+6"), 1234567]]))[1] == ["1000000", "1234567"]


def test_days_are_written_year_first_and_nothing_is_empty():
    assert read_csv(write_csv(["a", "b"], [[date(2026, 11, 26), None]]))[1] == ["2026-11-26", ""]


def test_commas_quotes_and_line_ends_come_back_as_typed():
    typed = 'fern, "left"\nsecond line'
    assert read_csv(write_csv(["Piece"], [[typed]]))[1] == [typed]


def test_a_workbook_holds_real_numbers_and_days():
    sheet = read_sheet(write_xlsx(["a", "b", "c"], [[Decimal("12.41"), date(2026, 11, 26), None]], "Casts"))
    assert [cell.value for cell in sheet[2]] == [12.41, datetime(2026, 11, 26), None]
    assert [cell.data_type for cell in sheet[2]][:2] == ["n", "d"]


@pytest.mark.parametrize("typed", ["=1+1", "=HYPERLINK(1)", "#N/A", "+1", "@x", "'=1"])
def test_text_never_becomes_a_formula_in_a_workbook(typed):
    cell = read_sheet(write_xlsx(["Note"], [[typed]], "Casts"))["A2"]
    assert (cell.value, cell.data_type) == (typed, "s")


def test_control_characters_do_not_break_a_workbook():
    assert read_sheet(write_xlsx(["\x01a"], [["b\x00c\x0b\ud800"]], "x\x02"))["A2"].value == "bc"


def test_a_moment_with_a_zone_is_written_as_its_own_clock():
    moment = datetime(2026, 11, 26, 6, 10, tzinfo=UTC)
    assert read_sheet(write_xlsx(["When"], [[moment]], "Kiln"))["A2"].value == datetime(2026, 11, 26, 6, 10)


def test_the_same_table_is_the_same_workbook():
    tables = [write_xlsx(["a"], [["x"], [Decimal("1.5")]], "Casts") for _ in range(2)]
    assert tables[0] == tables[1]


@pytest.mark.parametrize("year", [1970, 1979, 2108, 2150])
def test_a_clock_that_is_far_out_makes_the_same_workbook(year, monkeypatch):
    usual = write_xlsx(["a"], [["x"]], "Casts")
    odd = time.struct_time((year, 1, 2, 3, 4, 5, 0, 2, 0))
    monkeypatch.setattr("time.localtime", lambda *_: odd)
    assert write_xlsx(["a"], [["x"]], "Casts") == usual


def test_sheets_of_one_name_are_told_apart():
    content = write_xlsx_sheets(
        Sheet(title, ["x"], []) for title in ("Cast: 1/2 [a]", "cast  1 2  a", "y" * 40)
    )
    names = openpyxl.load_workbook(io.BytesIO(content)).sheetnames
    assert names == ["Cast 1 2 a", "cast 1 2 a 2", "y" * 31]


def test_a_book_without_tables_still_opens():
    assert openpyxl.load_workbook(io.BytesIO(write_xlsx_sheets([]))).sheetnames == ["Empty"]


@pytest.mark.parametrize(
    ("asked", "given"),
    [
        ("Cast 40: fern.pdf", "cast-40-fern.pdf"),
        ("../../etc/passwd", "report.etc-pass"),
        ("Łódź ř.csv", "odz-r.csv"),
        ("漢字.xlsx", "report.xlsx"),
        ("a\r\nSet-Cookie: x.csv", "a-set-cookie-x.csv"),
    ],
)
def test_a_file_gets_a_name_every_system_can_hold(asked, given):
    assert safe_filename(asked) == given


def test_a_file_is_saved_and_not_shown():
    response = attachment(b"a,b", "Cast 40.csv", CSV_TYPE)
    assert response["Content-Disposition"] == 'attachment; filename="cast-40.csv"'
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    assert response.content == b"a,b"
