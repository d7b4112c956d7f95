"""New rows written as one plain statement.

Django's own bulk_create looks at every field of every row anew, and took most of the time of posting a cast.
The rows here are whole numbers, words and days that posting made itself.
"""

from collections.abc import Sequence
from enum import Enum
from functools import cache
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Field, ForeignKey, Model

_PLAIN = frozenset((int, str, bool, type(None)))


def insert_rows(rows: Sequence[Model]) -> None:
    """Insert rows of one model, and give each its key. Raises IntegrityError where a constraint refuses one."""
    if not rows:
        return
    fields = _fields_of(type(rows[0]))
    # The wrapper that stands for the connection of this thread is looked through once.
    base = connections[DEFAULT_DB_ALIAS]
    most = base.ops.bulk_batch_size(list(fields), list(rows))
    with base.cursor() as cursor:
        for start in range(0, len(rows), most):
            batch = rows[start : start + most]
            values: list[Any] = []
            for row in batch:
                values += _values_of(row, fields, base)
            cursor.execute(_statement(type(rows[0]), len(batch)), values)
            for row, (key,) in zip(batch, cursor.fetchall(), strict=True):
                row.pk = key
                row._state.adding, row._state.db = False, base.alias


@cache
def _fields_of(model: type[Model]) -> tuple["Field[Any, Any]", ...]:
    return tuple(field for field in model._meta.local_concrete_fields if not field.primary_key)


@cache
def _relations_of(model: type[Model]) -> list[tuple[str, "ForeignKey[Any, Any]"]]:
    return [(field.attname, field) for field in _fields_of(model) if isinstance(field, ForeignKey)]


@cache
def _statement(model: type[Model], count: int) -> str:
    # Names of tables and columns are the models' own, and both databases quote them alike.
    fields = _fields_of(model)
    columns = ", ".join(f'"{field.column}"' for field in fields)
    marks = ", ".join(["(" + ", ".join(["%s"] * len(fields)) + ")"] * count)
    return f'INSERT INTO "{model._meta.db_table}" ({columns}) VALUES {marks} RETURNING "id"'  # noqa: S608 - no words of a person


def _values_of(row: Model, fields: tuple["Field[Any, Any]", ...], base: BaseDatabaseWrapper) -> list[Any]:
    kept = row.__dict__
    for name, field in _relations_of(type(row)):
        if kept[name] is None and (other := field.get_cached_value(row, default=None)) is not None:
            # What it belongs to had no key yet when the two were put together.
            kept[name] = other.pk
    values = [kept[field.attname] for field in fields]
    for place, value in enumerate(values):
        if type(value) in _PLAIN:
            continue
        # One of a list of choices is what it is kept as.
        values[place] = (
            value.value if isinstance(value, Enum) else fields[place].get_db_prep_save(value, base)
        )
    return values
