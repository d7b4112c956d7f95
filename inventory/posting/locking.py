"""The studio's lock, and rows read anew once it is held.

A page is read, a person thinks, and meanwhile somebody else posts. So what a posting judges is read again when
nobody else can write any more: on SQLite the transaction holds the one write lock, on PostgreSQL the studio's row.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from django.db import transaction
from django.db.models import Model

from inventory.models import Batch, Cast, Lot, Material, Piece, Studio
from inventory.queries.plain import rows_by_key
from inventory.queries.studio import current_studio

from .refusal import Refused

#: What is read with a row, because a posting judges by it as well.
_ALONG: dict[type[Model], tuple[str, ...]] = {
    Lot: ("holder", "material__alloy"),
    Piece: ("holder", "cast__crucible_holder", "cast__alloy"),
    Cast: ("crucible_holder", "alloy"),
    Material: ("alloy",),
    Batch: ("holder", "alloy"),
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
        news = rows_by_key(model, {old.pk for old in olds}, _ALONG.get(model, ()))
        for old in olds:
            if old.pk not in news:
                raise Refused(f"{old} is not there any more. Open the page again.")
            _copy(news[old.pk], old)


def _copy(new: Model, old: Model) -> None:
    for name, value in vars(new).items():
        if name != "_state":
            # Django lets go of what it remembers of a relation where its key has changed.
            setattr(old, name, value)
    old._state.fields_cache.update(new._state.fields_cache)
