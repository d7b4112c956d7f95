"""The studio's lock, and rows read anew once it is held.

A page is read, a person thinks, and meanwhile somebody else posts. So what a posting judges is read again when
nobody else can write any more: on SQLite the transaction holds the one write lock, on PostgreSQL the studio's row.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager

from django.db import transaction
from django.db.models import ForeignKey, Model

from inventory.models import Alloy, Batch, Cast, Holder, Lot, Material, Piece, Studio
from inventory.queries.plain import rows_by_key
from inventory.queries.studio import current_studio

from .refusal import Refused

#: What is read with a row, because a posting judges by it as well.
_WITH: dict[type[Model], dict[str, type[Model]]] = {
    Lot: {"holder": Holder, "material": Material},
    Piece: {"holder": Holder, "cast": Cast},
    Cast: {"crucible_holder": Holder, "alloy": Alloy},
    Material: {"alloy": Alloy},
    Batch: {"holder": Holder, "alloy": Alloy},
}


@contextmanager
def studio_locked() -> Iterator[Studio]:
    """One transaction in which nobody else writes: postings of two people stand in line, and never deadlock."""
    with transaction.atomic():
        yield current_studio(lock=True)


def bring_up_to_date(rows: Iterable[Model]) -> None:
    """Give rows that were read before the lock what they say now, with what they hang on; a query for each model.

    Raises Refused for a row that is no longer there.
    """
    by_model: dict[type[Model], list[Model]] = defaultdict(list)
    for row in rows:
        by_model[type(row)].append(row)
    for model, olds in by_model.items():
        news = rows_by_key(model, {old.pk for old in olds})
        _read_related(model, news.values())
        for old in olds:
            if old.pk not in news:
                raise Refused(f"{old} is not there any more. Open the page again.")
            _copy(news[old.pk], old)


def _read_related(model: type[Model], rows: Collection[Model]) -> None:
    for name, other in _WITH.get(model, {}).items():
        keys = [getattr(row, f"{name}_id") for row in rows]
        found = rows_by_key(other, {key for key in keys if key is not None})
        _read_related(other, found.values())
        for row, key in zip(rows, keys, strict=True):
            if key is not None:
                setattr(row, name, found[key])


def _copy(new: Model, old: Model) -> None:
    for field in new._meta.concrete_fields:
        # Django lets go of what it remembers of a relation where its key has changed.
        setattr(old, field.attname, getattr(new, field.attname))
        if isinstance(field, ForeignKey) and field.is_cached(new):
            field.set_cached_value(old, field.get_cached_value(new))
