"""Rows read by one plain statement: for postings, the studio that every page names, and the record a page is of.

Putting a query together takes Django several times as long as running it, and a posting asks the same few ones
every time. Whatever else stands on pages is asked for through the ORM.
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, TypeVar

from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Model
from django.db.models.base import ModelState

from studio.kit.models import OwnFigures

M = TypeVar("M", bound=Model)
_Convert = Callable[[Any, Any, Any], Any]


@dataclass(frozen=True, slots=True)
class _Part:
    """The columns of a selected row from `start` to `end` make a row of this model: the attributes that they fill,
    and what a database's values go through. All but the first hang on an earlier part by a relation."""

    model: type[Model]
    start: int
    end: int
    names: tuple[str, ...]
    converters: tuple[tuple[str, _Convert], ...]
    owner: int = 0
    relation: Any = None


def plain_rows(
    model: type[M], tail: str, values: Mapping[str, int | str] | None = None, along: tuple[str, ...] = ()
) -> list[M]:
    """Rows of a model; `tail` is what follows the names of tables, with a %(name)s for each value.

    `along` names what is read with them, as `select_related` does; rows that hang on the same one share it. `tail`
    calls the model's own table `t0`, and must never hold a person's words: those are values.
    """
    # The wrapper that stands for the connection of this thread is looked through once.
    base = connections[DEFAULT_DB_ALIAS]
    select, parts = _reading_of(model, along, base.vendor)
    with base.cursor() as cursor:
        # Values go by name: for those in a row Django looks through all the words of a statement on SQLite.
        cursor.execute(f"{select} {tail}", values)
        found = cursor.fetchall()
    made: list[list[Any]] = [[_as_read(parts[0], values_read, base) for values_read in found]]
    for part in parts[1:]:
        made.append(_hang_on(made[part.owner], part, found, base))
    return made[0]


def _hang_on(
    owners: Sequence[Any], part: _Part, found: Sequence[Sequence[Any]], base: BaseDatabaseWrapper
) -> list[Any]:
    """Tie to each of the rows made already the one that it hangs on; None where it hangs on nothing."""
    known: dict[Any, Model] = {}
    for owner, values_read in zip(owners, found, strict=True):
        key = values_read[part.start]
        if key is None:
            if part.relation.auto_created:
                # Nothing leads there from here; so that nobody asks once more.
                part.relation.set_cached_value(owner, None)
            continue
        if key not in known:
            known[key] = _as_read(part, values_read, base)
        part.relation.set_cached_value(owner, known[key])
        if part.relation.one_to_one:
            part.relation.remote_field.set_cached_value(known[key], owner)
    return [known.get(values_read[part.start]) for values_read in found]


def _as_read(part: _Part, values_read: Sequence[Any], base: BaseDatabaseWrapper) -> Model:
    """What `Model.from_db` makes of a whole row, without asking for each field whether it has a value."""
    read = dict(zip(part.names, values_read[part.start : part.end], strict=True))
    for name, convert in part.converters:
        read[name] = convert(read[name], None, base)
    row = put_together(part.model, read)
    row._state.adding, row._state.db = False, base.alias
    if isinstance(row, OwnFigures):
        row.say_whose_figures()
    return row


def put_together(model: type[M], values: Mapping[str, Any]) -> M:
    """A row of these values, which are all of it, by attribute."""
    row = model.__new__(model)
    row._state = ModelState()
    row.__dict__.update(values)
    return row


def rows_by_key(model: type[M], keys: Collection[int], along: tuple[str, ...] = ()) -> dict[int, M]:
    """The rows of a model that have these keys, by key, with what `along` names."""
    if not keys:
        return {}
    values = {f"key{number}": key for number, key in enumerate(keys)}
    marks = ", ".join(f"%({name})s" for name in values)
    return {row.pk: row for row in plain_rows(model, f"WHERE t0.id IN ({marks})", values, along)}


def row_of(model: type[M], key: int, along: tuple[str, ...] = (), column: str = "id") -> M | None:
    """The row of a key, or of another unique whole number, with what `along` names; None where there is none."""
    rows = plain_rows(model, f"WHERE t0.{column} = %(key)s", {"key": key}, along)
    return rows[0] if rows else None


@cache
def _reading_of(model: type[Model], along: tuple[str, ...], vendor: str) -> tuple[str, tuple[_Part, ...]]:
    """The statement up to its tail, and what its columns make."""
    parts, places = [_part_of(model, 0)], {"": 0}
    tables = [f'"{model._meta.db_table}" t0']
    for path in along:
        at, owner = "", 0
        for name in path.split("__"):
            at += f"__{name}"
            if at not in places:
                relation: Any = parts[owner].model._meta.get_field(name)
                part = _part_of(relation.related_model, parts[-1].end, owner, relation)
                places[at] = place = len(parts)
                tables.append(f'"{part.model._meta.db_table}" t{place} ON {_tie(relation, place, owner)}')
                parts.append(part)
            owner = places[at]
    columns = ", ".join(
        f't{place}."{field.column}"'
        for place, part in enumerate(parts)
        for field in part.model._meta.concrete_fields
    )
    return f"SELECT {columns} FROM {' LEFT JOIN '.join(tables)}", tuple(parts)  # noqa: S608 - names of the models' own


def _tie(relation: Any, place: int, owner: int) -> str:
    """What a row of table `place` has in common with the one of `owner` that it hangs on."""
    if relation.auto_created:  # the other end of a relation, whose column is over there
        return f't{place}."{relation.field.column}" = t{owner}.id'
    return f't{place}.id = t{owner}."{relation.column}"'


def _part_of(model: type[Model], start: int, owner: int = 0, relation: Any = None) -> _Part:
    fields = model._meta.concrete_fields
    converters = tuple(
        (field.attname, convert)
        for field in fields
        for column in [field.get_col(model._meta.db_table)]
        for convert in (*connection.ops.get_db_converters(column), *column.get_db_converters(connection))
    )
    names = tuple(field.attname for field in fields)
    return _Part(model, start, start + len(names), names, converters, owner, relation)
