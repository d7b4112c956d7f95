"""The whole ledger as the audit reads it: row by row, so that fifty years of books fit in little memory.

A check takes the `Ledger` and asks it for what it needs; nothing that grows with the movements is kept.

- `ledger.entries(*kinds)`: every entry, or those of some kinds, oldest number first.
- `ledger.postings(*kinds)`: the same, each with its movements in the order of their lines.
- `ledger.movements(entry_ids)`: the movements of some entries, by entry.
- `ledger.sums[holder]`: what the movements of a holder add up to, its latest day, and the first day at whose end it
  was unsound; the outside world has its sums too. `ledger.balance(holder)` answers for a holder that never moved as
  well. These are read once, when first asked for.
- `ledger.standing(entry)` and `ledger.reversed_ids`: what counts, and what was reversed.

For rows of other tables there is `stream`. A check may run its own query that groups in the database; a total over
many holders may pass 2**63 there, so let Python add what is large.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from itertools import groupby
from operator import attrgetter
from typing import Any, NamedTuple

from django.core.exceptions import ObjectDoesNotExist
from django.db import connection, transaction
from django.db.models import QuerySet

from inventory.core.ledger import Amount
from inventory.models import Entry, Holder, Movement
from inventory.queries.ledger import name_holder

MEASURES = ("quantity", "fine_ug", "cost_micro")


class EntryRow(NamedTuple):
    """An entry as the audit reads it. Plain rows and not models: a decade of books is read in a second or two."""

    pk: int
    kind: str
    day: date
    cast_id: int | None
    reverses_id: int | None
    line_count: int


class Row(NamedTuple):
    """A movement as the audit reads it."""

    pk: int
    entry: int
    line: int
    source: int
    target: int
    day: date
    what: str
    quantity: int
    fine_ug: int
    cost_micro: int
    seal: str

    @property
    def measures(self) -> tuple[int, int, int]:
        return self.quantity, self.fine_ug, self.cost_micro

    @property
    def amount(self) -> Amount:
        return Amount(*self.measures)


@dataclass(slots=True)
class HolderSums:
    """What the movements of one holder add up to, and the first day at whose end that was unsound."""

    quantity: int = 0
    fine_ug: int = 0
    cost_micro: int = 0
    latest_day: date | None = None
    unsound: tuple[date, Amount] | None = None

    @property
    def balance(self) -> Amount:
        return Amount(self.quantity, self.fine_ug, self.cost_micro)

    def change(self, day: date, sign: int, quantity: int, fine_ug: int, cost_micro: int) -> None:
        if self.latest_day is not None and day > self.latest_day:
            self.close_day()
        self.quantity += sign * quantity
        self.fine_ug += sign * fine_ug
        self.cost_micro += sign * cost_micro
        self.latest_day = day

    def close_day(self) -> None:
        if self.unsound is None and self.latest_day is not None and not self.balance.is_sound:
            self.unsound = (self.latest_day, self.balance)


_ENTRY_COLUMNS = ("pk", "kind", "day", "cast_id", "reverses_id", "line_count")
_ROW_COLUMNS = ("pk", "entry_id", "line", "source_id", "target_id", "day", "what", *MEASURES, "seal")


class Ledger:
    """The whole ledger, read anew for each question; see the module's words."""

    @cached_property
    def reversed_ids(self) -> set[int]:
        reversals = Entry.objects.filter(reverses__isnull=False).order_by()
        return set(reversals.values_list("reverses_id", flat=True).iterator())

    def standing(self, entry: EntryRow) -> bool:
        return entry.pk not in self.reversed_ids and entry.reverses_id is None

    def entries(self, *kinds: str) -> Iterator[EntryRow]:
        entries = Entry.objects.order_by("pk")
        return map(
            EntryRow._make, stream(entries.filter(kind__in=kinds) if kinds else entries, _ENTRY_COLUMNS)
        )

    def postings(self, *kinds: str) -> Iterator[tuple[EntryRow, list[Row]]]:
        movements = Movement.objects.filter(entry__kind__in=kinds) if kinds else Movement.objects.all()
        by_entry = _by_entry(movements)
        # Entries and movements come in the same order, so that one walks beside the other.
        ahead = next(by_entry, None)
        for entry in self.entries(*kinds):
            while ahead is not None and ahead[0] < entry.pk:
                ahead = next(by_entry, None)
            if ahead is not None and ahead[0] == entry.pk:
                yield entry, ahead[1]
                ahead = next(by_entry, None)
            else:
                yield entry, []

    def movements(self, entry_ids: Collection[int]) -> dict[int, list[Row]]:
        return dict(_by_entry(Movement.objects.filter(entry__in=entry_ids)))

    @cached_property
    def sums(self) -> dict[int, HolderSums]:
        sums: dict[int, HolderSums] = defaultdict(HolderSums)
        columns = ("source_id", "target_id", "day", *MEASURES)
        for source, target, day, *amount in stream(Movement.objects.order_by("day", "pk"), columns):
            sums[source].change(day, -1, *amount)
            sums[target].change(day, 1, *amount)
        for one in sums.values():
            one.close_day()
        return dict(sums)

    def balance(self, holder_id: int) -> Amount:
        sums = self.sums.get(holder_id)
        return sums.balance if sums else Amount()


def _by_entry(movements: QuerySet[Movement]) -> Iterator[tuple[int, list[Row]]]:
    rows = map(Row._make, stream(movements.order_by("entry_id", "line"), _ROW_COLUMNS))
    return ((entry_id, list(lines)) for entry_id, lines in groupby(rows, attrgetter("entry")))


def stream(rows: QuerySet[Any], columns: Sequence[str]) -> Iterator[tuple[Any, ...]]:
    return rows.values_list(*columns).iterator(2000)


@contextmanager
def one_moment() -> Iterator[None]:
    """All reads inside see the books as they stood at the first, while others post.

    It keeps nobody from writing: SQLite's lock is taken by writers alone when a read begins like this.
    """
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "postgresql":
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield
    else:
        with connection.cursor() as cursor:
            cursor.execute("BEGIN DEFERRED")
        try:
            yield
        finally:
            with connection.cursor() as cursor:
                cursor.execute("ROLLBACK")


def print_amount(amount: Amount) -> str:
    """An amount in its raw small units, as it stands in the database."""
    return f"quantity {amount.quantity}, fine_ug {amount.fine_ug}, cost_micro {amount.cost_micro}"


def name_row_of(holder: Holder) -> str:
    """What a person calls a holder, even one whose lot, cast or piece is not there."""
    try:
        return name_holder(holder)
    except ObjectDoesNotExist:
        return f"{holder.kind} of nobody"
