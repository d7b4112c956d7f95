"""Questions that are put together once for each kind of database, and from then on only asked.

Putting one together takes Django several times as long as a small studio's database takes to answer it, and the audit
asks a hundred, always the same.
"""

from collections.abc import Callable, Collection, Hashable, Iterator
from functools import wraps
from itertools import chain, zip_longest
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
        return _ask(questions[key], base, base.chunked_cursor)

    return rows


def kept_for(make: Callable[[Collection[int]], QuerySet[Any, Any]]) -> Callable[[Collection[int]], Rows]:
    """The same for a query of the rows of some keys, whichever they are; of none there are none.

    It is kept by the number of its keys, in powers of two: the last stands in the places that are left.
    """
    questions: dict[Hashable, _Question] = {}

    @wraps(make)
    def rows(keys: Collection[int]) -> Rows:
        if not keys:
            return iter(())
        base = connections[DEFAULT_DB_ALIAS]
        number = 1 << (len(keys) - 1).bit_length()
        places = range(_NO_KEY, _NO_KEY + number)
        if (base.vendor, number) not in questions:
            questions[base.vendor, number] = _put_together(make(places), base)
        question = questions[base.vendor, number]
        *others, last = keys
        given = dict(zip_longest(places, others, fillvalue=last))
        values = tuple(given.get(value, value) for value in question.values)
        return _ask(question._replace(values=values), base, base.cursor)

    return rows


#: No row has this key, nor one of those that follow: they stand for the keys that are asked for.
_NO_KEY = -(2**62)


def _put_together(query: QuerySet[Any, Any], base: BaseDatabaseWrapper) -> _Question:
    compiler = query.query.get_compiler(connection=base)
    sql, values = compiler.as_sql()
    return _Question(sql, tuple(values), compiler.get_converters([column for column, *_ in compiler.select]))


def _ask(question: _Question, base: BaseDatabaseWrapper, begin: Callable[[], Any]) -> Rows:
    with begin() as cursor:
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
