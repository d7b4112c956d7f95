"""Reports: the list of all of them, and taking one away as a file.

A report builds a `Document` once; the page, the PDF and the files all show that same document. A new one is a module
in an app's `reports/` whose building function carries `@report(...)`: nothing else has to know of it.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from importlib import import_module
from pkgutil import iter_modules
from typing import Any

from django.http import HttpResponse
from django.utils import timezone

from studio.kit.documents import Document, Raw, Table
from studio.kit.export import (
    CSV_TYPE,
    PDF_TYPE,
    XLSX_TYPE,
    Value,
    attachment,
    even_out,
    name_figures,
    name_quantity,
    write_csv_lines,
)
from studio.kit.forms import StudioForm
from studio.kit.measures import MEASURES, stock_measure


class ReportForm(StudioForm):
    """A form whose clean data is whole: `settled()` says what was asked in the words of an address."""

    marks_optional = False
    enter_goes_on = False

    def settled(self) -> dict[str, str]:
        """Every parameter of a valid form as text that reads back to it; those left open are not there."""
        texts = {}
        for name, field in self.fields.items():
            value = self.cleaned_data.get(name)
            if isinstance(value, date):
                texts[name] = value.isoformat()
            elif value is not None:
                texts[name] = str(field.prepare_value(value))
        return texts


class RecordReportForm(ReportForm):
    """A report of one record, whose number is asked in the field called `record`: left empty, it is the latest.

    Declare the field, `record`, `find`, and what is said where there is none (`unknown` has {} for the number).
    """

    record = ""
    none_yet = ""
    unknown = ""

    def find(self, number: int | None) -> Any:
        """The record of a number, or the latest; None where there is none."""
        raise NotImplementedError

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.record in cleaned:
            number = cleaned[self.record]
            cleaned[self.record] = self.find(number)
            if cleaned[self.record] is None:
                self.add_error(self.record, self.none_yet if number is None else self.unknown.format(number))
        return cleaned

    def settled(self) -> dict[str, str]:
        return {self.record: str(self.cleaned_data[self.record].pk)}


Build = Callable[[Mapping[str, Any]], Document]


@dataclass(frozen=True, slots=True)
class Report:
    """A report a person can ask for: `build` takes the cleaned data of `form_class`."""

    name: str
    title: str
    summary: str
    form_class: type[ReportForm]
    place: int
    build: Build


_reports: dict[str, Report] = {}


def report(
    name: str, title: str, summary: str, form_class: type[ReportForm], place: int = 100
) -> Callable[[Build], Build]:
    """Put what the function builds on the list of reports, at its place there.

    Raises ValueError for a name that is taken.
    """

    def declare(build: Build) -> Build:
        if name in _reports:
            raise ValueError(f"there already is a report named {name!r}")
        _reports[name] = Report(name, title, summary, form_class, place, build)
        return build

    return declare


def find_reports(package: str) -> None:
    """Import every module of a package, so that the reports in them are on the list."""
    for module in iter_modules(import_module(package).__path__, f"{package}."):
        import_module(module.name)


def all_reports() -> list[Report]:
    """Every report by its place, those of one place in the order in which they were declared."""
    return sorted(_reports.values(), key=lambda one: one.place)


def get_report(name: str) -> Report | None:
    """The report of this name, or None: the name may come from an address somebody typed."""
    return _reports.get(name)


def export_headings(table: Table, currency: str = "") -> list[str]:
    """Column names with the unit of their numbers; a quantity gets a second column for its unit."""
    headings = []
    for column in table.columns:
        if column.kind == "quantity":
            headings += name_quantity(column.label)
        elif column.kind in MEASURES:
            headings.append(name_figures(column.label, column.kind, currency, column.unit))
        else:
            headings.append(column.label)
    return headings


def export_decimals(table: Table) -> list[int | None]:
    """How many decimals a workbook shows in each of these columns; None leaves that to each number."""
    decimals: list[int | None] = []
    for column in table.columns:
        decimals.append(MEASURES[column.kind].column_decimals if column.kind in MEASURES else None)
        decimals += [None] if column.kind == "quantity" else []
    return decimals


def export_row(table: Table, row: tuple[Raw, ...]) -> list[Value]:
    """The exact values of a row in whole units (grams, currency, per cent), with no digit rounded away."""
    values: list[Value] = []
    for column, value in zip(table.columns, row, strict=True):
        if column.kind == "quantity":
            values += _export_quantity(value)
        elif isinstance(value, tuple):
            raise ValueError(f"column {column.key!r} of kind {column.kind!r} holds a quantity")
        elif isinstance(value, int) and column.kind in MEASURES:
            values.append(MEASURES[column.kind].take_away(value))
        elif isinstance(value, datetime):
            values.append(timezone.localtime(value).replace(tzinfo=None))
        else:
            values.append(value)
    return values


def _export_quantity(value: Raw) -> list[Value]:
    if not isinstance(value, tuple):
        return [value, None]
    measure = stock_measure(value[1])
    return [measure.take_away(value[0]), measure.taken_unit]


def write_document_csv(document: Document) -> bytes:
    """All tables one after another; where there are several, each under its caption."""
    return write_csv_lines(_csv_lines(document))


def _csv_lines(document: Document) -> Iterator[Sequence[Value]]:
    tables = document.tables
    for place, table in enumerate(tables):
        if place:
            yield []
        if len(tables) > 1:
            yield [table.caption]
        yield export_headings(table, document.currency)
        yield from even_out(_export_rows(table))


def _export_rows(table: Table) -> Iterator[list[Value]]:
    for row in table.rows:
        yield export_row(table, row)
    if table.totals is not None:
        yield export_row(table, table.totals)


def write_document_xlsx(document: Document) -> bytes:
    """One sheet for each table."""
    from studio.kit.workbook import Sheet, write_xlsx_sheets

    return write_xlsx_sheets(
        Sheet(
            table.caption or document.title,
            export_headings(table, document.currency),
            _export_rows(table),
            export_decimals(table),
        )
        for table in document.tables
    )


def _write_pdf(document: Document) -> bytes:
    # The pages that show a report need nothing of this, and it takes long to load.
    from studio.kit.pdf import render_pdf

    return render_pdf(document)


_FILES: Mapping[str, tuple[Callable[[Document], bytes], str]] = {
    "pdf": (_write_pdf, PDF_TYPE),
    "csv": (write_document_csv, CSV_TYPE),
    "xlsx": (write_document_xlsx, XLSX_TYPE),
}
ENDINGS = tuple(_FILES)
"""The files that a report can be taken away as."""


def make_file(document: Document, ending: str) -> HttpResponse:
    """The document as a file to save, by one of ENDINGS. Raises KeyError for another ending."""
    write, content_type = _FILES[ending]
    return attachment(write(document), f"{document.filename}.{ending}", content_type)
