"""New rows, and how several are written as one plain statement.

Django's own bulk_create looks at every field of every row anew, and took most of the time of posting a cast.
The rows here are whole numbers, words and days that posting made itself.
"""

from collections.abc import Sequence
from datetime import date
from enum import Enum
from functools import cache
from typing import Any, TypeVar

from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.utils import CursorWrapper
from django.db.models import Field, ForeignKey, Model

from inventory.queries.plain import put_together

M = TypeVar("M", bound=Model)
_PLAIN = frozenset((int, str, bool, date, type(None)))


def blank(model: type[M]) -> M:
    """A new row as `model()` makes it, where the defaults are looked up once and not for each row."""
    return put_together(model, _defaults_of(model))


@cache
def _defaults_of(model: type[Model]) -> dict[str, Any]:
    return {field.attname: field.get_default() for field in model._meta.concrete_fields}


def insert_rows(cursor: CursorWrapper, rows: Sequence[Model]) -> None:
    """Insert rows of one model, and give each its key. Raises IntegrityError where a constraint refuses one."""
    if not rows:
        return
    fields = _fields_of(type(rows[0]))
    base = cursor.db
    most = base.ops.bulk_batch_size(list(fields), list(rows))
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
def _relations_of(model: type[Model]) -> list[tuple[str, str]]:
    """Each relation of a model by its name, with the attribute that holds the other's key."""
    return [(field.name, field.attname) for field in _fields_of(model) if isinstance(field, ForeignKey)]


@cache
def _statement(model: type[Model], count: int) -> str:
    # Names of tables and columns are the models' own, and both databases quote them alike.
    fields = _fields_of(model)
    columns = ", ".join(f'"{field.column}"' for field in fields)
    marks = ", ".join(["(" + ", ".join(["%s"] * len(fields)) + ")"] * count)
    return f'INSERT INTO "{model._meta.db_table}" ({columns}) VALUES {marks} RETURNING "id"'  # noqa: S608 - no words of a person


def _values_of(row: Model, fields: tuple["Field[Any, Any]", ...], base: BaseDatabaseWrapper) -> list[Any]:
    kept, others = row.__dict__, row._state.fields_cache
    for name, attname in _relations_of(type(row)):
        if kept[attname] is None and (other := others.get(name)) is not None:
            # What it belongs to had no key yet when the two were put together.
            kept[attname] = other.pk
    return [
        value if type(value := kept[field.attname]) in _PLAIN else _as_kept(value, field, base)
        for field in fields
    ]


def _as_kept(value: Any, field: "Field[Any, Any]", base: BaseDatabaseWrapper) -> Any:
    # One of a list of choices is what it is kept as.
    return value.value if isinstance(value, Enum) else field.get_db_prep_save(value, base)
