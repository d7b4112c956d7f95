import csv
import io
from dataclasses import replace
from datetime import datetime
from decimal import Decimal

import openpyxl
import pytest
from django.http import QueryDict
from django.template.loader import render_to_string

from studio.kit import reporting
from studio.kit.documents import Column, Facts, Heading, Prose, Table, print_cell
from studio.kit.ordering import PAGE_ROWS
from studio.kit.report_page import lay_document, lay_table
from studio.kit.reporting import (
    ReportForm,
    all_reports,
    get_report,
    make_file,
    report,
    write_document_csv,
    write_document_xlsx,
)
from tests.kit.reports import PIECES, make_document, make_full_document

LOTS = Table(
    "Lots",
    (Column("lot", "Lot"), Column("held", "Held", "quantity")),
    (("Grain", (12_410, "mass")), ("Water", (182_000, "volume")), ("Wire rings", (12, "items"))),
)


@pytest.fixture
def no_reports(monkeypatch):
    monkeypatch.setattr(reporting, "_reports", {})


def declare(name="losses", **more):
    return report(name, "Losses", "Where grams went.", ReportForm, **more)(lambda chosen: make_document())


def read_csv(content):
    return list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def read_book(content):
    return openpyxl.load_workbook(io.BytesIO(content))


def show_page(document, query=None, **context):
    blocks = lay_document(document, query)
    context |= {"document": document, "blocks": blocks, "studio_name": "Alder Yard studio"}
    return render_to_string("kit/report.html", context)


# The list of reports


def test_a_declared_report_is_found_by_its_name(no_reports):
    build = declare()
    assert get_report("losses").build is build


def test_reports_are_listed_by_their_place_and_then_as_they_came(no_reports):
    for name, place in (("wear", 2), ("losses", 2), ("buying", 1)):
        declare(name, place=place)
    declare("last")
    assert [one.name for one in all_reports()] == ["buying", "wear", "losses", "last"]


def test_two_reports_cannot_share_a_name(no_reports):
    declare()
    with pytest.raises(ValueError, match="losses"):
        declare()


def test_a_name_nobody_registered_finds_nothing(no_reports):
    assert get_report("../etc") is None


# Values


@pytest.mark.parametrize(
    ("kind", "value", "printed"),
    [
        ("text", "Fern stud", "Fern stud"),
        ("text", None, ""),
        ("mass", 12_410, "12.41 g"),
        ("mass", None, "\u2013"),
        ("mass", "not weighed", "not weighed"),
        ("fine", 11_479_250, "11.479 g"),
        ("money", 1_234_567_890, "1,234.57"),
        ("money", -5_000, "\u22120.01"),
        ("percent", 42, "0.42 %"),
        ("count", 1_234, "1,234"),
        ("minutes", 450, "7 h 30 min"),
        ("volume", 182_000, "182 ml"),
        ("length", 76_200, "76.2 mm"),
        ("energy", 12_400, "12.40 kWh"),
        ("celsius", 750, "750 °C"),
        ("melts", 1_500, "1.5 melts"),
        ("quantity", (12, "items"), "12 items"),
        ("day", datetime(2026, 11, 26).date(), "Thu 26 Nov 2026"),
    ],
)
def test_a_cell_is_printed_the_trades_way(kind, value, printed):
    assert print_cell(Column("x", "X", kind), value).replace("\u00a0", " ") == printed


def test_a_count_takes_the_word_of_its_column():
    assert print_cell(Column("x", "X", "count", unit="casts"), 12) == "12\u00a0casts"


def test_a_kind_of_column_nobody_knows_is_refused():
    with pytest.raises(ValueError, match="colour"):
        Column("x", "X", "colour")


def test_a_row_with_a_value_too_few_is_refused():
    with pytest.raises(ValueError, match="needs 2 values"):
        Table("Lots", LOTS.columns, (("Grain",),))


# Files


def test_the_csv_of_one_table_is_that_table_alone():
    lines = read_csv(write_document_csv(make_document(PIECES)))
    assert lines[0] == [
        "Piece",
        "Weighed",
        "Mass (g)",
        "Silver (g)",
        "Cost (GBP)",
        "Share (%)",
        "Time (min)",
        "Castings (pcs)",
    ]
    assert lines[1] == ["Fern stud", "2026-11-21", "7.42", "6.8635", "12.174321", "10.5", "95", "2"]
    assert lines[-1] == ["Cast", "", "1066.32", "986.3460", "1091.774321", "", "545", "1236"]


def test_the_csv_of_several_tables_names_each():
    lines = read_csv(write_document_csv(make_document(PIECES, Prose("words"), LOTS)))
    assert lines[0] == ["What each piece cost"]
    assert lines[5:8] == [[], ["Lots"], ["Lot", "Held", "Held: unit"]]


def test_a_quantity_is_taken_away_as_a_number_and_its_unit():
    lines = read_csv(write_document_csv(make_document(LOTS)))
    assert lines[1:] == [["Grain", "12.41", "g"], ["Water", "182.00", "ml"], ["Wire rings", "12", "items"]]


def test_a_name_that_looks_like_a_formula_is_guarded():
    table = Table("Lots", LOTS.columns, (("=cmd|'/c calc'!A1", (5, "items")),))
    assert read_csv(write_document_csv(make_document(table)))[1][0] == "'=cmd|'/c calc'!A1"


def test_a_workbook_has_a_sheet_for_each_table():
    book = read_book(write_document_xlsx(make_document(PIECES, LOTS)))
    assert book.sheetnames == ["What each piece cost", "Lots"]
    assert [cell.value for cell in book["Lots"][2]] == ["Grain", 12.41, "g"]


def test_money_in_a_workbook_is_not_rounded():
    book = read_book(write_document_xlsx(make_document(PIECES)))
    assert Decimal(str(book.worksheets[0]["E2"].value)) == Decimal("12.174321")


@pytest.mark.parametrize(
    ("ending", "content_type", "start"),
    [
        ("pdf", "application/pdf", b"%PDF-"),
        ("csv", "text/csv; charset=utf-8", b"\xef\xbb\xbf"),
        ("xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", b"PK"),
    ],
)
def test_a_report_is_taken_away_as_a_file(ending, content_type, start):
    response = make_file(make_full_document(), ending)
    assert response["Content-Type"] == content_type
    assert response["Content-Disposition"] == f'attachment; filename="cast-40-cost.{ending}"'
    assert response.content.startswith(start)


def test_a_report_of_words_only_makes_files_that_open():
    document = make_document(Prose("Nothing was cast."))
    assert read_csv(write_document_csv(document)) == []
    assert len(read_book(write_document_xlsx(document)).sheetnames) == 1


# The page


def test_the_page_shows_every_block():
    page = show_page(make_full_document()).replace("\u00a0", " ")
    for words in (
        "<h1>Cost of cast 40</h1>",
        "21 November 2026; made Thu 26 Nov 2026; money in GBP",
        "<h2>Where it went</h2>",
        "<p>The loss is within the limit.</p>",
        "<dt>Flask</dt><dd>3 of firing 28</dd>",
        "lost 0.75 g (0.42 %)",
        "<caption>What each piece cost</caption>",
        "Metal in the pieces",
        "common practice",
    ):
        assert words in page


def test_the_table_on_the_page_names_its_columns_and_rows():
    page = show_page(make_document(PIECES))
    assert '<th scope="col" class="num wide">Mass</th>' in page
    assert '<th scope="row">Fern stud</th>' in page
    assert "<tfoot>" in page


def test_the_page_offers_the_files():
    page = show_page(make_full_document(), files=[("PDF", "/reports/x.pdf"), ("CSV", "/reports/x.csv")])
    assert '<a href="/reports/x.pdf" download>PDF</a>' in page


def test_the_page_breaks_no_strict_policy():
    page = show_page(make_full_document())
    assert "style=" not in page
    assert "<style" not in page


def test_what_a_person_typed_is_shown_and_never_obeyed():
    typed = "<script>alert(1)</script>"
    page = show_page(
        make_document(
            Heading(typed),
            Prose(typed),
            Facts(((typed, typed),)),
            Table(typed, (Column("a", typed),), ((typed,),), (typed,), note=typed),
            title=typed,
            subtitle=typed,
        )
    )
    assert typed not in page
    assert page.count("&lt;script&gt;") >= 10


def test_a_phone_keeps_the_name_and_the_last_column_and_folds_the_rest():
    laid = lay_table(PIECES)
    assert laid.narrow_count == 2
    assert [heading.text for heading in laid.headings if "wide" not in heading.css_class] == [
        "Piece",
        "Castings",
    ]
    assert ("Cost", "12.17") in laid.rows[0].folded


def test_a_column_may_ask_to_stay_on_a_phone():
    columns = tuple(replace(column, on_phone=column.key == "cost" or None) for column in PIECES.columns)
    laid = lay_table(replace(PIECES, columns=columns))
    assert [heading.text for heading in laid.headings if "wide" not in heading.css_class] == ["Piece", "Cost"]


def test_a_table_of_few_columns_stays_whole_on_a_phone():
    laid = lay_table(LOTS)
    assert (laid.narrow_count, laid.rows[0].folded) == (2, ())


def test_a_word_without_end_may_be_broken():
    laid = lay_table(Table("Lots", (Column("a", "Lot"),), (("x" * 120,), ("fern stud, left and right",))))
    assert [row.cells[0].css_class for row in laid.rows] == ["long-word", ""]


def test_a_long_table_is_shown_a_page_at_a_time_with_the_totals_of_all():
    rows = tuple((f"Lot {n}", (n, "items")) for n in range(PAGE_ROWS + 50))
    document = make_document(Table("Lots", LOTS.columns, rows, ("All", (9_999, "items"))))
    first = show_page(document)
    assert f"1 to {PAGE_ROWS} of {PAGE_ROWS + 50}" in first
    assert f"Lot {PAGE_ROWS - 1}<" in first and f"Lot {PAGE_ROWS}<" not in first
    assert 'href="?table-0=2#table-0"' in first
    second = show_page(document, QueryDict("cast=4&table-0=2"))
    assert f"Lot {PAGE_ROWS - 1}<" not in second and f"Lot {PAGE_ROWS}<" in second
    assert 'href="?cast=4&amp;table-0=1#table-0"' in second
    assert "9,999" in first and "9,999" in second


@pytest.mark.parametrize("asked", ["", "x", "0", "-1", "99999999999", "1.5"])
def test_a_page_of_a_table_that_is_not_there_is_another_page(asked):
    rows = tuple((f"Lot {n}", (n, "items")) for n in range(PAGE_ROWS + 1))
    assert "Lot" in show_page(make_document(Table("Lots", LOTS.columns, rows)), QueryDict(f"table-0={asked}"))


def test_an_empty_table_says_so_on_the_page():
    assert "nothing to show" in show_page(make_document(Table("Lots", LOTS.columns, ())))
