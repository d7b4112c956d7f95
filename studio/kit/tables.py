"""Tables of the studio: figures to the right, some folded away on a phone, all of them to take away.

A table is shown by `{% render_table table %}` after `lay_out(table, request)`; `ListingView` does both.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from html import unescape
from inspect import Signature, signature
from typing import Any

import django_tables2 as tables
from django.db.models import QuerySet
from django.http import HttpRequest, QueryDict
from django.urls import reverse
from django.utils.formats import localize
from django.utils.html import conditional_escape, escape, strip_tags
from django.utils.safestring import SafeString
from django_tables2.columns.base import BoundColumn
from django_tables2.rows import BoundRow

from studio.kit import printing
from studio.kit.documents import BEFORE_ROUNDING
from studio.kit.measures import MEASURES
from studio.kit.ordering import Paged, change_query, lay_out, leave_unsortable
from studio.kit.rounding import round_to_unit

__all__ = ["lay_out"]

_LONG_WORD = 20


@dataclass(frozen=True, slots=True)
class Heading:
    """A column's heading: where its sort link leads ("" for none) and which way it is sorted now."""

    label: str
    css_class: str
    address: str
    sorted_way: str


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands in one cell; the heading cell names its row."""

    text: Any
    css_class: str
    is_heading: bool = False

    def write(self) -> str:
        """As HTML. A page has hundreds, and a template takes ten times as long."""
        css_class = f' class="{escape(self.css_class)}"' if self.css_class else ""
        text = conditional_escape(localize(self.text))
        if self.is_heading:
            return f'<th scope="row"{css_class}>{text}</th>'
        return f"<td{css_class}>{text}</td>"


@dataclass(frozen=True, slots=True)
class LaidRow:
    """A row, and what is folded away under it on a phone."""

    cells: tuple[Cell, ...]
    folded: tuple[tuple[str, Any], ...]
    css_class: str = ""

    def write_cells(self) -> SafeString:
        return SafeString("".join(f"\n  {cell.write()}\n  " for cell in self.cells))


def lay_row(cells: Iterable[tuple[str, Any, str]], css_class: str = "") -> LaidRow:
    """A row from the label of each column, its text and its class; the first names the row, "wide" ones fold away.

    A word so long that it would push the table off the page may be broken; others stay whole.
    """
    laid, folded = [], []
    for place, (label, text, css) in enumerate(cells):
        long = any(len(word) > _LONG_WORD for word in strip_tags(str(text)).split())
        laid.append(Cell(text, f"{css} long-word".strip() if long else css, place == 0))
        if text != "" and _is_wide(css):
            folded.append((label, text))
    return LaidRow(tuple(laid), tuple(folded), css_class)


class _Printer:
    """What prints a cell, with its signature beside it: the library asks for that anew at every cell."""

    def __init__(self, print_cell: Callable[..., Any]) -> None:
        self._print = print_cell
        self.__signature__ = _wanted_by(getattr(print_cell, "__func__", print_cell))

    def __call__(self, **wanted: Any) -> Any:
        return self._print(**wanted)


@cache
def _wanted_by(method: Callable[..., Any]) -> Signature:
    found = signature(method)
    return found.replace(parameters=[one for one in found.parameters.values() if one.name != "self"])


class BaseTable(Paged, tables.Table):
    """The table every page uses. Subclasses set `caption` and, in Meta, `empty_text`.

    `first_step` is (label, name of an address): the thing to do while the table is empty.
    `totals` maps column names to whole numbers in the column's own small unit, over all pages.
    """

    caption = ""
    first_step: tuple[str, str] | None = None
    total_label = "Total"

    def __init__(self, *args: Any, totals: Mapping[str, int | None] | None = None, **kwargs: Any) -> None:
        kwargs.setdefault("template_name", "kit/table.html")
        kwargs.setdefault("default", printing.NOTHING)
        self.totals: Mapping[str, int | None] = totals or {}
        self.request: HttpRequest | None = None
        self.take_away = False
        super().__init__(*args, **kwargs)
        for column in self.columns.iterall():
            # A page's own words for a figure are not for files, unless the table says what files get.
            if getattr(column.column, "is_exact", False) and not hasattr(self, f"value_{column.name}"):
                column.value = column.column.value
            column.render, column.value = _Printer(column.render), _Printer(column.value)
        leave_unsortable(self)

    def has_footer(self) -> bool:
        has_own = any(column.column._footer is not None for column in self.columns)
        return bool(self.show_footer and (self.totals or has_own))

    def headings(self) -> list[Heading]:
        return [self._lay_heading(column) for column in self.columns]

    def laid_rows(self) -> Iterator[LaidRow]:
        css_class = self.row_attrs.get("class", "")
        # Of a column, and so of no row.
        said = [(str(column.header), column.attrs["td"].get("class") or "") for column in self.columns]
        for row in self.paginated_rows:
            cells = ((label, text, css) for (label, css), text in zip(said, row, strict=True))
            yield lay_row(cells, css_class(row.record) if callable(css_class) else css_class)

    def laid_footer(self) -> LaidRow:
        cells = [
            (str(column.header), column.footer, column.attrs["tf"].get("class") or "")
            for column in self.columns
        ]
        label, text, css_class = cells[0]
        total_label = f"{self.total_label}{BEFORE_ROUNDING}" if self._rounds_apart() else self.total_label
        return lay_row([(label, total_label if text == "" else text, css_class), *cells[1:]])

    def _rounds_apart(self) -> bool:
        """Whether figures that are printed here as they stand elsewhere, too, do not add up to their total.

        A list of several pages shows none of them all of its figures, so it says nothing.
        """
        page = getattr(self, "page", None)
        if page is not None and page.has_other_pages():
            return False
        records = [row.record for row in self.paginated_rows]
        for name, total in self.totals.items():
            column = self.columns[name]
            unit = MEASURES[column.column.kind].column_unit
            amounts = [column.accessor.resolve(record, quiet=True) or 0 for record in records]
            if sum(round_to_unit(amount, unit) for amount in amounts) != round_to_unit(total or 0, unit):
                return True
        return False

    def narrow_count(self) -> int:
        """How many columns a phone shows: the width of a folded row."""
        return sum(not _is_wide(column.attrs["td"].get("class") or "") for column in self.columns)

    def page_address(self, number: int) -> str:
        return self._address(**{self.prefixed_page_field: str(number)})

    def first_step_address(self) -> str:
        return reverse(self.first_step[1]) if self.first_step else ""

    def export_headings(self, currency: str = "") -> list[str]:
        columns = self._export_columns()
        return [name for column in columns for name in column.column.name_taken(str(column.header), currency)]

    def export_decimals(self) -> list[int | None]:
        """How many decimals a workbook shows in each of these columns."""
        return [decimals for column in self._export_columns() for decimals in column.column.count_decimals()]

    def export_rows(self) -> Iterator[list[Any]]:
        """Every row of the list, whatever page is shown: exact Decimals, days, and plain text."""
        columns = list(self._export_columns())
        for record in _stream(self.data.data):
            row = BoundRow(record, table=self)
            values: list[Any] = []
            for column in columns:
                values.append(_to_plain(row.get_cell_value(column.name)))
                values += column.column.find_more(record)
            yield values

    def _export_columns(self) -> Iterator[BoundColumn]:
        return (column for column in self.columns.iterall() if not column.column.exclude_from_export)

    def _lay_heading(self, column: BoundColumn) -> Heading:
        css_class = column.attrs["td"].get("class") or ""
        way = ""
        if column.is_ordered:
            way = "descending" if column.order_by_alias.is_descending else "ascending"
        address = ""
        if column.orderable and self.request is not None:
            address = self._address(
                **{self.prefixed_order_by_field: column.order_by_alias.next, self.prefixed_page_field: None}
            )
        return Heading(str(column.header), css_class, address, way)

    def _address(self, **changes: str | None) -> str:
        query = self.request.GET if self.request is not None else QueryDict()
        return change_query(query, export=None, **changes)


def _stream(rows: Any) -> Any:
    # A prefetch is asked again for every chunk, so those lists are fetched in one go.
    if isinstance(rows, QuerySet) and not getattr(rows, "_prefetch_related_lookups", ()):
        return rows.iterator(chunk_size=2000)
    return rows


def _to_plain(value: Any) -> int | Decimal | date | str | None:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value is None or value == printing.NOTHING or isinstance(value, int | Decimal | date):
        return None if value == printing.NOTHING else value
    return unescape(strip_tags(value)) if isinstance(value, SafeString) else str(value)


def _is_wide(css_class: str) -> bool:
    return "wide" in css_class.split()
