"""Rows read by one plain statement, for postings.

Putting a query together takes Django several times as long as running it, and a posting asks the same few ones
every time. Pages ask through the ORM.
"""

from collections.abc import Callable, Collection, Sequence
from functools import cache
from typing import Any, TypeVar

from django.db import connection
from django.db.models import Model

M = TypeVar("M", bound=Model)
_Convert = Callable[[Any, Any, Any], Any]


def plain_rows(model: type[M], tail: str, values: Sequence[int | str] = ()) -> list[M]:
    """Rows of a model; `tail` is what follows the table's name, with a %s for each value.

    `tail` must never hold a person's words: those are values.
    """
    columns, names, converters = _shape_of(model, connection.vendor)
    with connection.cursor() as cursor:
        cursor.execute(f'SELECT {columns} FROM "{model._meta.db_table}" {tail}', values)  # noqa: S608 - see above
        found = cursor.fetchall()
    rows = []
    for row in found:
        numbers = list(row)
        for place, convert in converters:
            numbers[place] = convert(numbers[place], None, connection)
        rows.append(model.from_db(connection.alias, names, numbers))
    return rows


def rows_by_key(model: type[M], keys: Collection[int]) -> dict[int, M]:
    """The rows of a model that have these keys, by key."""
    if not keys:
        return {}
    marks = ", ".join(["%s"] * len(keys))
    return {row.pk: row for row in plain_rows(model, f"WHERE id IN ({marks})", list(keys))}


@cache
def _shape_of(model: type[Model], vendor: str) -> tuple[str, list[str], list[tuple[int, _Convert]]]:
    """What to select, the attributes that it fills, and what a database's values go through."""
    fields = model._meta.concrete_fields
    converters = [
        (place, convert)
        for place, field in enumerate(fields)
        for convert in connection.ops.get_db_converters(field.get_col(model._meta.db_table))
    ]
    columns = ", ".join(f'"{field.column}"' for field in fields)
    return columns, [field.attname for field in fields], converters
