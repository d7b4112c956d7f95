"""Questions that are put together once for each kind of database, and from then on only asked.

Putting one together takes Django several times as long as a small studio's database takes to answer it, and the audit
asks a hundred, always the same.
"""

from collections.abc import Callable, Hashable, Iterator
from functools import wraps
from itertools import chain
from typing import Any, NamedTuple, ParamSpec

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Count, QuerySet, Value

# So many rows are in memory at once, however many there are.
_AT_ONCE = 2000
_Asked = ParamSpec("_Asked")
Rows = Iterator[tuple[Any, ...]]


class _Question(NamedTuple):
    sql: str
    values: tuple[Any, ...]
    converters: dict[int, tuple[list[Callable[[Any, Any, Any], Any]], Any]]


def kept(make: Callable[_Asked, QuerySet[Any, Any]]) -> Callable[_Asked, Rows]:
    """Make of a function that returns a query of plain columns (`values_list`) one that streams its rows.

    The query may hang on nothing but the arguments, which must be hashable: it is kept by them.
    """
    questions: dict[Hashable, _Question] = {}

    @wraps(make)
    def rows(*arguments: _Asked.args, **named: _Asked.kwargs) -> Rows:
        base = connections[DEFAULT_DB_ALIAS]
        key = (base.vendor, *arguments, *named.items())
        if key not in questions:
            questions[key] = _put_together(make(*arguments, **named), base)
        return _ask(questions[key], base)

    return rows


def _put_together(query: QuerySet[Any, Any], base: BaseDatabaseWrapper) -> _Question:
    compiler = query.query.get_compiler(connection=base)
    sql, values = compiler.as_sql()
    return _Question(sql, tuple(values), compiler.get_converters([column for column, *_ in compiler.select]))


def _ask(question: _Question, base: BaseDatabaseWrapper) -> Rows:
    with base.chunked_cursor() as cursor:
        cursor.execute(question.sql, question.values)
        found = chain.from_iterable(iter(lambda: cursor.fetchmany(_AT_ONCE), []))
        if not question.converters:
            yield from found
            return
        converters = list(question.converters.items())
        for row in map(list, found):
            for place, (convert_by, column) in converters:
                for convert in convert_by:
                    row[place] = convert(row[place], column, base)
            yield tuple(row)


def count_of(rows: QuerySet[Any]) -> QuerySet[Any, Any]:
    """The question how many there are, one row of one column."""
    counted = rows.order_by().annotate(all=Value(1)).values("all").annotate(count=Count("pk"))
    return counted.values_list("count")
