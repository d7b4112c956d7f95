"""A document laid out for a page: its blocks, and of long tables one page."""

from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

from django.core.paginator import Page, Paginator
from django.http import QueryDict
from django.utils.html import format_html

from studio.kit.documents import Block, Column, Document, Raw, Table, print_cell, round_sums
from studio.kit.ordering import PAGE_ROWS, Paged, change_query, choose_page
from studio.kit.tables import Cell, LaidRow, lay_row

_ALL_STAY = 3
# Letters that even a phone can show in one column.
_ROOMY = 10


@dataclass(frozen=True, slots=True)
class PageBlock:
    """A block; a table comes laid out as a `PageTable`. `kind` says how `kit/report.html` shows it."""

    kind: str
    block: "Block | PageTable"


@dataclass(frozen=True)
class PageTable(Paged):
    """One page of a table as printed text, with what folds away on a phone, and the totals of all rows."""

    caption: str
    headings: tuple[Cell, ...]
    rows: tuple[LaidRow, ...]
    footer: LaidRow | None
    narrow_count: int
    note: str
    page: "Page[Any]"
    paginator: "Paginator[Any]"
    query: QueryDict
    anchor: str

    @property
    def is_dense(self) -> bool:
        """So many columns that a desk has room for them only in smaller type, set closer."""
        return len(self.headings) > _ROOMY

    def page_address(self, number: int) -> str:
        return f"{change_query(self.query, **{self.anchor: str(number)})}#{self.anchor}"


def lay_document(document: Document, query: QueryDict | None = None) -> list[PageBlock]:
    """The blocks in order; `query` says which page of a long table is wanted."""
    return [
        PageBlock(
            type(block).__name__,
            lay_table(block, query, f"table-{place}") if isinstance(block, Table) else block,
        )
        for place, block in enumerate(document.blocks)
    ]


def lay_table(table: Table, query: QueryDict | None = None, anchor: str = "table") -> PageTable:
    """The rows of one page of a table, and its totals, which are always those of all rows."""
    query = QueryDict() if query is None else query
    table = round_sums(table)
    stays = _choose_for_phone(table.columns)
    classes = [_css_class(*each) for each in zip(table.columns, stays, strict=True)]
    linked = list(zip_longest(table.rows, table.addresses, fillvalue=""))
    page = choose_page(Paginator(linked, PAGE_ROWS), query.get(anchor, "1"))
    return PageTable(
        caption=table.caption,
        headings=tuple(
            Cell(column.label, css_class) for column, css_class in zip(table.columns, classes, strict=True)
        ),
        rows=tuple(_lay_row(table.columns, classes, row, address=address) for row, address in page),
        footer=_lay_row(table.columns, classes, table.totals, is_total=True)
        if table.totals is not None
        else None,
        narrow_count=sum(stays),
        note=table.note,
        page=page,
        paginator=page.paginator,
        query=query,
        anchor=anchor,
    )


def _choose_for_phone(columns: tuple[Column, ...]) -> list[bool]:
    """Which columns a phone keeps: those that ask for it, else the first, which names the row, and the last."""
    last = len(columns) - 1
    few = len(columns) <= _ALL_STAY
    asked = any(column.on_phone for column in columns)
    return [
        column.on_phone if column.on_phone is not None else few or place == 0 or (place == last and not asked)
        for place, column in enumerate(columns)
    ]


def _css_class(column: Column, stays: bool) -> str:
    words = (
        "num" if column.is_number else "",
        f"by-hand-{column.kind}" if column.kind in ("box", "blank") else "",
        "" if stays else "wide",
    )
    return " ".join(word for word in words if word)


def _lay_row(
    columns: tuple[Column, ...],
    classes: list[str],
    row: tuple[Raw, ...],
    is_total: bool = False,
    address: str = "",
) -> LaidRow:
    cells: list[tuple[str, str, str]] = []
    for column, css_class, value in zip(columns, classes, row, strict=True):
        text = "" if is_total and value is None else print_cell(column, value)
        if address and not cells:
            text = format_html('<a href="{}">{}</a>', address, text)
        cells.append((column.label, text, css_class))
    return lay_row(cells)
