"""Workbooks: one sheet for each table, real numbers and days, and never a formula."""

import io
import re
import zipfile
from collections.abc import Iterable, Sequence
from datetime import datetime
from decimal import Decimal
from itertools import zip_longest
from pathlib import Path
from typing import Any, NamedTuple

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter
from openpyxl.writer.excel import ExcelWriter

from studio.kit.export import Value, plain_text


class Sheet(NamedTuple):
    """A sheet's table. `decimals` are how many each column shows; None, or nothing said, leaves it to each number."""

    title: str
    headers: Sequence[str]
    rows: Iterable[Sequence[Value]]
    decimals: Sequence[int | None] = ()


_NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff\ud800-\udfff]")
_NOT_IN_SHEET_NAMES = re.compile(r"[\[\]:*?/\\']")
_LONGEST_SHEET_NAME = 31
_WIDEST_COLUMN = 60
_SAME_MOMENT = datetime(2000, 1, 1)


def write_xlsx(
    headers: Sequence[str],
    rows: Iterable[Sequence[Value]],
    title: str,
    decimals: Sequence[int | None] = (),
) -> bytes:
    """A workbook of one sheet; numbers and days are real numbers and days, text stays text."""
    return write_xlsx_sheets([Sheet(title, headers, rows, decimals)])


def write_xlsx_sheets(sheets: Iterable[Sheet]) -> bytes:
    """A workbook of some sheets. The same tables give the same bytes."""
    book = Workbook(write_only=True)
    names: set[str] = set()
    for title, headers, rows, decimals in sheets:
        name = _sheet_name(title, names)
        names.add(name.casefold())
        kept = [list(row) for row in rows]
        sheet = book.create_sheet(name)
        for number, width in enumerate(_column_widths(headers, kept), start=1):
            sheet.column_dimensions[get_column_letter(number)].width = width
        sheet.freeze_panes = "A2"
        sheet.append([_text_cell(sheet, header, bold=True) for header in headers])
        for row in kept:
            shown = zip_longest(row, decimals[: len(row)])
            sheet.append([_xlsx_cell(sheet, value, places) for value, places in shown])
    if not names:
        book.create_sheet("Empty")
    book.properties.created = book.properties.modified = _SAME_MOMENT
    target = io.BytesIO()
    ExcelWriter(book, _WithoutClock(target, "w", zipfile.ZIP_DEFLATED)).save()
    return target.getvalue()


class _WithoutClock(zipfile.ZipFile):
    """Says the same moment of every part: the same table is the same file, and no clock is too odd for it."""

    def writestr(self, zinfo_or_arcname: Any, data: Any, *_args: Any, **_kwargs: Any) -> None:
        super().writestr(
            zipfile.ZipInfo(zinfo_or_arcname, _SAME_MOMENT.timetuple()[:6]), data, self.compression
        )

    def write(self, filename: Any, arcname: Any = None, *_args: Any, **_kwargs: Any) -> None:
        self.writestr(arcname, Path(filename).read_bytes())


def _xlsx_cell(sheet: Any, value: Value, decimals: int | None) -> Any:
    if isinstance(value, str):
        return _text_cell(sheet, plain_text(value))
    if isinstance(value, Decimal):
        return _number_cell(sheet, value, decimals)
    if isinstance(value, datetime) and value.tzinfo:
        # A workbook knows no zones: it gets the clock as the moment itself shows it.
        return value.replace(tzinfo=None)
    return value


def _number_cell(sheet: Any, value: Decimal, decimals: int | None) -> Any:
    # Written as its own digits: openpyxl would go through a float, and 8.95 would read 8.949999999999999.
    cell = WriteOnlyCell(sheet, format(value, "f"))
    cell.data_type = "n"
    if decimals is not None:
        cell.number_format = f"#,##0.{'0' * decimals}" if decimals else "#,##0"
    return cell


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
