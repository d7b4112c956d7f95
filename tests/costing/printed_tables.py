"""Reads what pages and files print: their tables as text, and each figure held against its exact value."""

import csv
import io
import re
from decimal import Decimal
from html.parser import HTMLParser

from openpyxl import load_workbook

from studio.kit.report_page import PageTable, lay_document
from studio.kit.reporting import make_file

PENNY = 10_000


class Figures:
    """Every printed figure by its name: always beside its exact value, and the same wherever it stands."""

    def __init__(self):
        self.seen = {}

    def add(self, name, printed, exact, where, unit=PENNY):
        amount = read_amount(printed)
        assert amount % unit == 0, (name, printed, where)
        assert abs(amount - exact) < unit, (name, printed, exact, where)
        first, said = self.seen.setdefault(name, (where, amount))
        assert amount == said, f"{name}: {first} prints {said}, {where} prints {amount}"


def read_amount(printed):
    """Millionths of what is printed, as text of a page or of a file, or as the number of a workbook; none is 0."""
    if isinstance(printed, float | int):
        return round(printed * 1_000_000)
    digits = re.sub(r"[^\d.-]", "", (printed or "").replace("\N{MINUS SIGN}", "-"))
    return int(Decimal(digits or 0) * 1_000_000)


class _Tables(HTMLParser):
    """The tables of a page by caption, as rows of text; what folds away on a phone is left out."""

    def __init__(self, page):
        super().__init__()
        self.found, self.rows, self.caption, self.inside, self.is_fold = {}, [], "", "", False
        self.feed(page.replace("\N{NO-BREAK SPACE}", " "))

    def handle_starttag(self, tag, attrs):
        if tag == "table":
            self.rows, self.caption = [], ""
        elif tag == "tr":
            self.is_fold = ("class", "fold") in attrs
            if not self.is_fold:
                self.rows.append([])
        elif tag in ("th", "td") and not self.is_fold:
            self.rows[-1].append("")
        if tag in ("caption", "th", "td"):
            self.inside = tag
        elif tag == "br":
            self.inside = ""

    def handle_endtag(self, tag):
        if tag == "table":
            self.found[self.caption.split(",")[0].strip()] = [row for row in self.rows if row]
        if tag == self.inside:
            self.inside = ""

    def handle_data(self, data):
        if self.inside == "caption":
            self.caption += data
        elif self.inside and not self.is_fold:
            self.rows[-1][-1] += data.strip()


def page_tables(reader, address):
    """The tables of a page by caption, its headings first."""
    answer = reader.get(address)
    assert answer.status_code == 200, address
    return tables_of(answer.content.decode())


def tables_of(page):
    """The tables of a page that was read already."""
    return _Tables(page).found


def laid_tables(document):
    """The tables of a document as they are laid out for a page: the texts that its template writes."""
    blocks = [laid.block for laid in lay_document(document)]
    return {
        table.caption.split(",")[0]: [
            [cell.text.replace("\N{NO-BREAK SPACE}", " ") for cell in cells]
            for cells in (
                table.headings,
                *(row.cells for row in table.rows),
                *([table.footer.cells] if table.footer else []),
            )
        ]
        for table in blocks
        if isinstance(table, PageTable)
    }


def file_tables(reader, address):
    """The tables of a report in its two files, each as (where, tables by caption)."""
    for ending, read in _READERS.items():
        where = address.replace("/?", f".{ending}?")
        yield where, _name_plainly(read(reader.get(where).content))


def document_tables(document):
    """The same of a document, for its files."""
    for ending, read in _READERS.items():
        yield f"{document.filename}.{ending}", _name_plainly(read(make_file(document, ending).content))


def _name_plainly(tables):
    """Captions without how many there are, headings without their unit."""
    return {
        caption.split(",")[0]: [[re.split(r",| \(", str(name))[0] for name in rows[0]], *rows[1:]]
        for caption, rows in tables.items()
    }


def _csv_tables(content):
    tables, caption = {}, ""
    rows = list(csv.reader(io.StringIO(content.decode("utf-8-sig"))))
    for place, row in enumerate(rows):
        if len(row) == 1 and (not place or not rows[place - 1]):
            caption = row[0]
        elif row:
            tables.setdefault(caption, []).append(row)
    return tables


def _workbook_tables(content):
    book = load_workbook(io.BytesIO(content), read_only=True)
    return {sheet.title: [list(row) for row in sheet.iter_rows(values_only=True)] for sheet in book}


_READERS = {"csv": _csv_tables, "xlsx": _workbook_tables}
