"""Tables to take away as comma-separated text, in which no typed text ever becomes a formula; names of files.

Workbooks have a module of their own, because what writes them takes longer to load than all pages together:
import it where one is asked for.
"""

import csv
import io
import re
import unicodedata
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal

from django.http import HttpResponse
from django.utils.http import content_disposition_header

from studio.kit.measures import MEASURES
from studio.kit.numerals import SPACE

Value = str | int | Decimal | date | None

CSV_TYPE = "text/csv; charset=utf-8"
XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
PDF_TYPE = "application/pdf"

# Also the wide forms of the four signs: some spreadsheets read them alike.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def name_figures(label: str, kind: str, currency: str = "", unit: str = "") -> str:
    """The heading of a column of numbers: "Charge (g)", "Cost (GBP)"; `unit` where it is another than the kind's."""
    named = unit or (currency if kind == "money" else MEASURES[kind].taken_unit)
    return label if named.casefold() in ("", label.casefold()) else f"{label} ({named})"


def name_quantity(label: str) -> list[str]:
    """The headings of a column whose unit changes from row to row: one for the numbers, one for their units."""
    return [label, f"{label}: unit"]


def write_csv(headers: Sequence[str], rows: Iterable[Sequence[Value]]) -> bytes:
    """UTF-8 with a mark in front, so that a spreadsheet reads every letter; numbers without thousands marks.

    All numbers of a column have as many decimals as the longest. Text that a spreadsheet would take for a formula
    gets an apostrophe in front.
    """
    return write_csv_lines([headers, *even_out(rows)])


def even_out(rows: Iterable[Sequence[Value]]) -> list[list[Value]]:
    """The same rows, the Decimals of each column with as many decimals as the one that has most."""
    kept = [list(row) for row in rows]
    most: dict[int, int] = {}
    for row in kept:
        for place, value in enumerate(row):
            if isinstance(value, Decimal):
                most[place] = min(most.get(place, 0), int(value.as_tuple().exponent))
    for row in kept:
        for place, exponent in most.items():
            if place < len(row) and isinstance(value := row[place], Decimal):
                row[place] = value.quantize(Decimal((0, (1,), exponent)))
    return kept


def write_csv_lines(lines: Iterable[Sequence[Value]]) -> bytes:
    """The same for lines of any length, as where several tables follow each other."""
    target = io.StringIO(newline="")
    writer = csv.writer(target)
    for line in lines:
        writer.writerow([_csv_cell(value) for value in line])
    return target.getvalue().encode("utf-8-sig", errors="replace")


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


def plain_text(text: str) -> str:
    """Without the spaces that keep a figure and its unit on one line: a search for the words finds them."""
    return text.replace(SPACE, " ")


def _csv_cell(value: Value) -> str:
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, str):
        text = plain_text(value).replace("\x00", "")
        return f"'{text}" if text.startswith(_FORMULA_STARTS) else text
    if isinstance(value, datetime):
        return value.replace(tzinfo=None).isoformat(sep=" ", timespec="seconds")
    return value.isoformat() if isinstance(value, date) else str(value)
