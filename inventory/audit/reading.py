"""The whole ledger as the audit reads it, in one pass over the movements."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from django.db.models import QuerySet

from inventory.core.ledger import Amount
from inventory.models import Entry, Movement

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
    def amount(self) -> Amount:
        return Amount(self.quantity, self.fine_ug, self.cost_micro)


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

    def change(self, row: Row, sign: int) -> None:
        if self.latest_day is not None and row.day > self.latest_day:
            self.close_day()
        self.quantity += sign * row.quantity
        self.fine_ug += sign * row.fine_ug
        self.cost_micro += sign * row.cost_micro
        self.latest_day = row.day

    def close_day(self) -> None:
        if self.unsound is None and self.latest_day is not None and not self.balance.is_sound:
            self.unsound = (self.latest_day, self.balance)


@dataclass(slots=True)
class Ledger:
    """The whole ledger, gathered in one pass."""

    entries: dict[int, EntryRow]
    rows: dict[int, list[Row]]
    sums: dict[int, HolderSums]
    reversed_ids: set[int]

    def standing(self, entry: EntryRow) -> bool:
        return entry.pk not in self.reversed_ids and entry.reverses_id is None

    def balance(self, holder_id: int) -> Amount:
        sums = self.sums.get(holder_id)
        return sums.balance if sums else Amount()


def read_ledger() -> Ledger:
    entry_columns = ("pk", "kind", "day", "cast_id", "reverses_id", "line_count")
    entries = {row[0]: EntryRow._make(row) for row in stream(Entry.objects.order_by("pk"), entry_columns)}
    rows: dict[int, list[Row]] = defaultdict(list)
    sums: dict[int, HolderSums] = defaultdict(HolderSums)
    columns = ("pk", "entry_id", "line", "source_id", "target_id", "day", "what", *MEASURES, "seal")
    for row in map(Row._make, stream(Movement.objects.order_by("day", "pk"), columns)):
        rows[row.entry].append(row)
        sums[row.source].change(row, -1)
        sums[row.target].change(row, 1)
    for one in sums.values():
        one.close_day()
    reversed_ids = {entry.reverses_id for entry in entries.values() if entry.reverses_id}
    return Ledger(entries, rows, sums, reversed_ids)


def stream(rows: QuerySet[Any], columns: Sequence[str]) -> Iterator[tuple[Any, ...]]:
    return rows.values_list(*columns).iterator(5000)


def print_amount(amount: Amount) -> str:
    """An amount in its raw small units, as it stands in the database."""
    return f"quantity {amount.quantity}, fine_ug {amount.fine_ug}, cost_micro {amount.cost_micro}"
