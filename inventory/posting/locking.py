"""The studio's lock, and rows read anew once it is held.

A page is read, a person thinks, and meanwhile somebody else posts. So what a posting judges is read again when
nobody else can write any more: on SQLite the transaction holds the one write lock, on PostgreSQL the studio's row.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from django.db import transaction
from django.db.models import ForeignKey, Model

from inventory.models import Cast, Lot, Material, Piece, Studio
from inventory.queries.studio import current_studio

from .refusal import Refused

#: What is read with a row, because a posting judges by it as well.
_WITH: dict[type[Model], tuple[str, ...]] = {
    Lot: ("holder", "material__alloy"),
    Piece: ("holder", "cast__alloy"),
    Cast: ("crucible_holder", "alloy"),
    Material: ("alloy",),
}


@contextmanager
def studio_locked() -> Iterator[Studio]:
    """One transaction in which nobody else writes: postings of two people stand in line, and never deadlock."""
    with transaction.atomic():
        yield current_studio(lock=True)


def bring_up_to_date(rows: Iterable[Model]) -> None:
    """Give rows that were read before the lock what they say now, one query for each model.

    Raises Refused for a row that is no longer there.
    """
    by_model: dict[type[Model], list[Model]] = defaultdict(list)
    for row in rows:
        by_model[type(row)].append(row)
    for model, olds in by_model.items():
        query = model._base_manager.select_related(*_WITH.get(model, ()))
        news = query.in_bulk([old.pk for old in olds])
        for old in olds:
            if old.pk not in news:
                raise Refused(f"{old} is not there any more. Open the page again.")
            _copy(news[old.pk], old)


def _copy(new: Model, old: Model) -> None:
    for field in new._meta.concrete_fields:
        has_changed = getattr(old, field.attname) != getattr(new, field.attname)
        setattr(old, field.attname, getattr(new, field.attname))
        if not isinstance(field, ForeignKey):
            continue
        if field.is_cached(new):
            field.set_cached_value(old, field.get_cached_value(new))
        elif has_changed and field.is_cached(old):
            field.delete_cached_value(old)
