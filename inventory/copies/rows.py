"""Rows from one database into another, table by table, as they stand."""

from collections.abc import Iterator
from itertools import islice
from typing import Any

from django.apps import apps
from django.contrib.sessions.models import Session
from django.core.management.color import no_style
from django.db import connection
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Model

from inventory.guards import drop_guards, install_guards

_AT_ONCE = 2000


def replace_rows(source: BaseDatabaseWrapper) -> None:
    """Put the rows of `source` in place of all that is in this thread's database; both have the same tables.

    The caller opens the transaction. Who is signed in is not carried over.
    """
    known = (model for model in apps.get_models(include_auto_created=True) if model is not Session)
    models = [model for model in known if model._meta.managed and not model._meta.proxy]
    drop_guards()
    _empty([Session, *models])
    for model in models:
        _carry(model, source)
    connection.check_constraints()
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), models):
            cursor.execute(statement)
    install_guards()


def _empty(models: list[type[Model]]) -> None:
    tables = [connection.ops.quote_name(model._meta.db_table) for model in models]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET LOCAL lock_timeout = '20s'")  # somebody who never ends is not waited for
            cursor.execute(f"TRUNCATE {', '.join(tables)}")
            return
        for table in tables:
            cursor.execute(f"DELETE FROM {table}")  # noqa: S608 - a name of the models' own


def _carry(model: type[Model], source: BaseDatabaseWrapper) -> None:
    fields = [field for field in model._meta.local_concrete_fields if not field.generated]
    quote = connection.ops.quote_name
    columns = ", ".join(quote(str(field.column)) for field in fields)
    marks = ", ".join(["%s"] * len(fields))
    insert = f"INSERT INTO {quote(model._meta.db_table)} ({columns}) VALUES ({marks})"  # noqa: S608 - the models' own
    rows = _rows(model, [field.attname for field in fields], source)
    with connection.cursor() as cursor:
        while batch := list(islice(rows, _AT_ONCE)):
            pairs = (zip(fields, row, strict=True) for row in batch)
            values = [[field.get_db_prep_save(value, connection) for field, value in row] for row in pairs]
            cursor.executemany(insert, values)


def _rows(model: type[Model], names: list[str], source: BaseDatabaseWrapper) -> Iterator[tuple[Any, ...]]:
    query = model._base_manager.order_by("pk").values_list(*names).query
    compiler = query.get_compiler(connection=source)
    yield from compiler.results_iter(tuple_expected=True, chunked_fetch=True, chunk_size=_AT_ONCE)
