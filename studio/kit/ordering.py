"""How a table is sorted and paged by what the address asks; nothing that an address says raises."""

from typing import Any

import django_tables2 as tables
from django.core.exceptions import EmptyResultSet, FieldError
from django.core.paginator import EmptyPage, Page, PageNotAnInteger, Paginator
from django.db.models import QuerySet
from django.db.models.query import ModelIterable
from django.http import HttpRequest, QueryDict
from django_tables2.columns.base import BoundColumn

PAGE_ROWS = 25
SORTS_AT_ONCE = 3


def change_query(query: QueryDict, **changes: str | None) -> str:
    """The query string with some parameters changed; None takes one out. Always begins with "?"."""
    changed = query.copy()
    for name, value in changes.items():
        if value is None:
            changed.pop(name, None)
        else:
            changed[name] = value
    return "?" + changed.urlencode()


class Paged:
    """What is shown a page at a time: the links that `kit/pager.html` offers."""

    page: "Page[Any]"
    paginator: "Paginator[Any]"

    def page_address(self, number: int) -> str:
        raise NotImplementedError

    def page_links(self) -> list[tuple[str, str]]:
        """(number, address) of the pages to offer; the address is "" for the page shown and for a gap."""
        links = []
        for number in self.paginator.get_elided_page_range(self.page.number, on_each_side=1, on_ends=1):
            is_link = isinstance(number, int) and number != self.page.number
            links.append((str(number), self.page_address(int(number)) if is_link else ""))
        return links

    def page_text(self) -> str:
        return str(self.page.number)

    def previous_address(self) -> str:
        return self.page_address(self.page.previous_page_number())

    def next_address(self) -> str:
        return self.page_address(self.page.next_page_number())


def choose_page(paginator: "Paginator[Any]", wanted: str) -> "Page[Any]":
    """The page that an address asks for: the last for one beyond it, the first for what is no number."""
    try:
        return paginator.page(wanted if len(wanted) < 10 else "1")
    except PageNotAnInteger:
        return paginator.page(1)
    except EmptyPage:
        is_beyond = wanted.isdecimal() and int(wanted) > 0
        return paginator.page(paginator.num_pages if is_beyond else 1)


def lay_out(table: Any, request: HttpRequest) -> Any:
    """Sort and page a table as the address asks. What makes no sense is passed over: it never raises."""
    sort(table, request)
    table.paginator = Paginator(table.rows, PAGE_ROWS)
    table.page = choose_page(table.paginator, request.GET.get(table.prefixed_page_field, "1"))
    return table


def sort(table: Any, request: HttpRequest) -> None:
    """Sort a table as the address asks; ties stand in a steady order, so no row is on two pages."""
    table.request = request
    wanted = request.GET.getlist(table.prefixed_order_by_field)[:SORTS_AT_ONCE]
    before = table.data.data
    if wanted:
        order_before = table.order_by
        table.order_by = wanted
        if isinstance(before, QuerySet) and not _can_be_asked(table.data.data):
            table.data.data = before
            table._order_by = order_before
    if isinstance(table.data.data, QuerySet):
        table.data.data = _make_steady(table.data.data)


def _make_steady(rows: "QuerySet[Any]") -> "QuerySet[Any]":
    query = rows.query
    if rows._iterable_class is not ModelIterable or _is_cut(rows):
        return rows
    order = query.order_by or (query.get_meta().ordering if query.default_ordering else ())
    return rows.order_by(*(order or ()), "pk")


def _is_cut(rows: "QuerySet[Any]") -> bool:
    """Whether the rows were sliced or put together already, after which none can be asked in another order."""
    return rows.query.is_sliced or bool(rows.query.combinator)


def _can_be_asked(rows: "QuerySet[Any]") -> bool:
    try:
        rows.query.get_compiler(rows.db).as_sql()
    except EmptyResultSet:
        return True
    except FieldError:
        return False
    return True


def leave_unsortable(table: tables.Table) -> None:
    """A column that the database cannot sort by gets no sort link."""
    rows = table.data.data
    if not isinstance(rows, QuerySet):
        return
    for column in table.columns.iterall():
        has_own_order = hasattr(table, f"order_{column.name}")
        if column.orderable and not has_own_order and not _can_be_ordered(rows, column):
            column.column.orderable = False


def _can_be_ordered(rows: "QuerySet[Any]", column: BoundColumn) -> bool:
    if _is_cut(rows):
        return False
    try:
        rows.order_by(*(accessor.for_queryset() for accessor in column.order_by))
    except FieldError:
        return False
    return True
