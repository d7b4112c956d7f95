"""Tables to take away: comma-separated text and workbooks, in which no typed text ever becomes a formula."""

import csv
import io
import re
import unicodedata
import zipfile
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.http import HttpResponse
from django.utils.http import content_disposition_header
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

Value = str | int | Decimal | date | None

CSV_TYPE = "text/csv; charset=utf-8"
XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
PDF_TYPE = "application/pdf"

# Also the wide forms of the four signs: some spreadsheets read them alike.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff\ud800-\udfff]")
_NOT_IN_SHEET_NAMES = re.compile(r"[\[\]:*?/\\']")
_LONGEST_SHEET_NAME = 31
_WIDEST_COLUMN = 60
_SAME_MOMENT = datetime(2000, 1, 1)


def write_csv(headers: Sequence[str], rows: Iterable[Sequence[Value]]) -> bytes:
    """UTF-8 with a mark in front, so that a spreadsheet reads every letter; numbers without thousands marks.

    Text that a spreadsheet would take for a formula gets an apostrophe in front.
    """
    return write_csv_lines([headers, *rows])


def write_csv_lines(lines: Iterable[Sequence[Value]]) -> bytes:
    """The same for lines of any length, as where several tables follow each other."""
    target = io.StringIO(newline="")
    writer = csv.writer(target)
    for line in lines:
        writer.writerow([_csv_cell(value) for value in line])
    return target.getvalue().encode("utf-8-sig", errors="replace")


def write_xlsx(headers: Sequence[str], rows: Iterable[Sequence[Value]], title: str) -> bytes:
    """A workbook of one sheet; numbers and days are real numbers and days, text stays text."""
    return write_xlsx_sheets([(title, headers, rows)])


def write_xlsx_sheets(sheets: Iterable[tuple[str, Sequence[str], Iterable[Sequence[Value]]]]) -> bytes:
    """A workbook of (title, headers, rows) for each sheet. The same tables give the same bytes."""
    book = Workbook(write_only=True)
    names: set[str] = set()
    for title, headers, rows in sheets:
        name = _sheet_name(title, names)
        names.add(name.casefold())
        kept = [list(row) for row in rows]
        sheet = book.create_sheet(name)
        for number, width in enumerate(_column_widths(headers, kept), start=1):
            sheet.column_dimensions[get_column_letter(number)].width = width
        sheet.freeze_panes = "A2"
        sheet.append([_text_cell(sheet, header, bold=True) for header in headers])
        for row in kept:
            sheet.append([_xlsx_cell(sheet, value) for value in row])
    if not names:
        book.create_sheet("Empty")
    target = io.BytesIO()
    book.save(target)
    return _without_clock(target.getvalue())


def attachment(content: bytes, filename: str, content_type: str) -> HttpResponse:
    """A file to save, under a name that every system can hold."""
    response = HttpResponse(content, content_type=content_type)
    name = content_disposition_header(as_attachment=True, filename=safe_filename(filename))
    response["Content-Disposition"] = name or "attachment"
    return response


def safe_filename(filename: str) -> str:
    """Plain letters, digits and hyphens; the ending is kept: "Cast 40: fern.pdf" gives "cast-40-fern.pdf"."""
    stem, dot, ending = filename.rpartition(".")
    if not dot:
        stem, ending = filename, ""
    return f"{_slug(stem)[:80] or 'report'}{dot}{_slug(ending)[:8]}"


def _slug(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode("ascii").lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")


def _csv_cell(value: Value) -> str:
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, str):
        text = value.replace("\x00", "")
        return f"'{text}" if text.startswith(_FORMULA_STARTS) else text
    return value.isoformat() if isinstance(value, date) else str(value)


def _xlsx_cell(sheet: Any, value: Value) -> Any:
    if isinstance(value, str):
        return _text_cell(sheet, value)
    if isinstance(value, datetime) and value.tzinfo:
        # A workbook knows no zones: it gets the clock as the moment itself shows it.
        return value.replace(tzinfo=None)
    return value


def _text_cell(sheet: Any, text: str, bold: bool = False) -> Any:
    cell = WriteOnlyCell(sheet, _NOT_IN_XML.sub("", text))
    # openpyxl takes text that starts with "=" for a formula, and "#N/A" for an error.
    cell.data_type = "s"
    if bold:
        cell.font = Font(bold=True)
    return cell


def _sheet_name(title: str, taken: set[str]) -> str:
    """A name a workbook accepts and has not used: at most 31 characters, none of them reserved."""
    base = _NOT_IN_SHEET_NAMES.sub(" ", _NOT_IN_XML.sub("", title))
    base = " ".join(base.split())[:_LONGEST_SHEET_NAME].strip() or "Table"
    name, count = base, 1
    while name.casefold() in taken:
        count += 1
        ending = f" {count}"
        name = base[: _LONGEST_SHEET_NAME - len(ending)].rstrip() + ending
    return name


def _column_widths(headers: Sequence[str], rows: Sequence[Sequence[Value]]) -> list[int]:
    widths = [len(header) for header in headers]
    for row in rows:
        for place, value in enumerate(row[: len(widths)]):
            widths[place] = max(widths[place], 0 if value is None else len(str(value)))
    return [min(width, _WIDEST_COLUMN) + 2 for width in widths]


def _without_clock(content: bytes) -> bytes:
    """The same workbook without the moment of writing, so that the same table is the same file."""
    target = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in sorted(old.namelist()):
            part = old.read(name)
            if name == "docProps/core.xml":
                moment = f"{_SAME_MOMENT.isoformat()}Z".encode()
                part = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", moment, part)
            new.writestr(zipfile.ZipInfo(name, _SAME_MOMENT.timetuple()[:6]), part, zipfile.ZIP_DEFLATED)
    return target.getvalue()
