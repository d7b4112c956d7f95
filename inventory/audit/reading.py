"""The whole ledger as the audit reads it: row by row, so that fifty years of books fit in little memory.

A check takes the `Ledger` and asks it for what it needs; nothing that grows with the movements is kept.

- `ledger.entries(*kinds)`: every entry, or those of some kinds, oldest number first.
- `ledger.postings(*kinds)`: the same, each with its movements in the order of their lines.
- `ledger.taken_back()`: the movements of each entry that was reversed, with the number of its reversal, in its order.
- `ledger.sums[holder]`: what the movements of a holder add up to, its latest day, and the first day at whose end it
  was unsound; the outside world has its sums too. `ledger.balance(holder)` answers for a holder that never moved as
  well. These are read once, when first asked for.
- `ledger.standing(entry)` and `ledger.reversed_ids`: what counts, and what was reversed.
- `ledger.places`: the holders outside, by their places.

For rows of other tables there is `kept`, which puts a question together once. A check may run its own that groups in
the database; a total over many holders may pass 2**63 there, so let Python add what is large.
"""

from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from itertools import groupby
from operator import attrgetter, itemgetter
from typing import Any, NamedTuple

from django.core.exceptions import ObjectDoesNotExist
from django.db import connection, transaction
from django.db.models import QuerySet

from inventory.core.ledger import Amount
from inventory.models import Entry, Holder, Movement
from inventory.queries.kept import Rows, kept
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
        return {entry for (entry,) in _reversed()}

    @cached_property
    def places(self) -> dict[str, int]:
        return dict(_places())

    def standing(self, entry: EntryRow) -> bool:
        return entry.pk not in self.reversed_ids and entry.reverses_id is None

    def entries(self, *kinds: str) -> Iterator[EntryRow]:
        return map(EntryRow._make, _entries(kinds))

    def postings(self, *kinds: str) -> Iterator[tuple[EntryRow, list[Row]]]:
        by_entry = _by_entry(_movements(kinds))
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

    def taken_back(self) -> Iterator[tuple[int, list[Row]]]:
        return (
            (reversal, [Row._make(row) for _, *row in rows])
            for reversal, rows in groupby(_taken_back(), itemgetter(0))
        )

    @cached_property
    def sums(self) -> dict[int, HolderSums]:
        sums: dict[int, HolderSums] = defaultdict(HolderSums)
        for source, target, day, *amount in _movements_by_day():
            sums[source].change(day, -1, *amount)
            sums[target].change(day, 1, *amount)
        for one in sums.values():
            one.close_day()
        return dict(sums)

    def balance(self, holder_id: int) -> Amount:
        sums = self.sums.get(holder_id)
        return sums.balance if sums else Amount()


@kept
def _reversed() -> QuerySet[Entry, Any]:
    return Entry.objects.filter(reverses__isnull=False).order_by().values_list("reverses_id")


@kept
def _places() -> QuerySet[Holder, Any]:
    return Holder.objects.filter(kind=Holder.Kind.OUTSIDE).order_by().values_list("place", "pk")


@kept
def _entries(kinds: tuple[str, ...]) -> QuerySet[Entry, Any]:
    entries = Entry.objects.order_by("pk").values_list(*_ENTRY_COLUMNS)
    return entries.filter(kind__in=kinds) if kinds else entries


@kept
def _movements(kinds: tuple[str, ...]) -> QuerySet[Movement, Any]:
    movements = Movement.objects.order_by("entry_id", "line").values_list(*_ROW_COLUMNS)
    return movements.filter(entry__kind__in=kinds) if kinds else movements


@kept
def _taken_back() -> QuerySet[Movement, Any]:
    taken_back = Movement.objects.filter(entry__reversed_by__isnull=False)
    return taken_back.order_by("entry__reversed_by__pk", "line").values_list(
        "entry__reversed_by__pk", *_ROW_COLUMNS
    )


@kept
def _movements_by_day() -> QuerySet[Movement, Any]:
    return Movement.objects.order_by("day", "pk").values_list("source_id", "target_id", "day", *MEASURES)


def _by_entry(movements: Rows) -> Iterator[tuple[int, list[Row]]]:
    rows = map(Row._make, movements)
    return ((entry_id, list(lines)) for entry_id, lines in groupby(rows, attrgetter("entry")))


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
