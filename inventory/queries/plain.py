"""Rows read by one plain statement, for postings.

Putting a query together takes Django several times as long as running it, and a posting asks the same few ones
every time. Pages ask through the ORM.
"""

from collections.abc import Callable, Collection, Sequence
from functools import cache
from typing import Any, TypeVar

from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.db.models import Model
from django.db.models.base import ModelState

M = TypeVar("M", bound=Model)
_Convert = Callable[[Any, Any, Any], Any]


def plain_rows(model: type[M], tail: str, values: Sequence[int | str] = ()) -> list[M]:
    """Rows of a model; `tail` is what follows the table's name, with a %s for each value.

    `tail` must never hold a person's words: those are values.
    """
    # The wrapper that stands for the connection of this thread is looked through once.
    base = connections[DEFAULT_DB_ALIAS]
    columns, names, converters = _shape_of(model, base.vendor)
    with base.cursor() as cursor:
        cursor.execute(f'SELECT {columns} FROM "{model._meta.db_table}" {tail}', values)  # noqa: S608 - see above
        found = cursor.fetchall()
    rows = []
    for values_read in found:
        read = dict(zip(names, values_read, strict=True))
        for name, convert in converters:
            read[name] = convert(read[name], None, base)
        rows.append(_as_read(model, read, base.alias))
    return rows


def _as_read(model: type[M], read: dict[str, Any], alias: str) -> M:
    """What `Model.from_db` makes of a whole row, without asking for each field whether it has a value.

    A model that makes something of its values as it begins (`OwnFigures`) is left to do so.
    """
    if model.__init__ is not Model.__init__:
        row = model(**read)
        row._state.adding, row._state.db = False, alias
        return row
    row = model.__new__(model)
    row._state = state = ModelState()
    state.adding, state.db = False, alias
    row.__dict__.update(read)
    return row


def rows_by_key(model: type[M], keys: Collection[int]) -> dict[int, M]:
    """The rows of a model that have these keys, by key."""
    if not keys:
        return {}
    marks = ", ".join(["%s"] * len(keys))
    return {row.pk: row for row in plain_rows(model, f"WHERE id IN ({marks})", list(keys))}


@cache
def _shape_of(model: type[Model], vendor: str) -> tuple[str, list[str], list[tuple[str, _Convert]]]:
    """What to select, the attributes that it fills, and what a database's values go through."""
    fields = model._meta.concrete_fields
    converters = [
        (field.attname, convert)
        for field in fields
        for convert in connection.ops.get_db_converters(field.get_col(model._meta.db_table))
    ]
    columns = ", ".join(f'"{field.column}"' for field in fields)
    return columns, [field.attname for field in fields], converters
