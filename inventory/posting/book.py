"""The one writer of the ledger.

A `Book` gathers the entries of one posting in memory, on holders it has locked, and writes them all at the
end of one transaction: new holders with their balances, entries, what they made, movements, changed balances.
Writing in that order takes a fixed handful of statements however many lines there are.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from typing import Any, TypeVar

from django.contrib.auth.models import User
from django.db import connection
from django.db.backends.utils import CursorWrapper
from django.db.models import Model
from django.utils import timezone

from inventory.core.ledger import Amount, draw, first_unsound_day, seal_of
from inventory.models import Alloy, Batch, Cast, Entry, Holder, Lot, Material, Piece, Studio, Tin
from inventory.queries.ledger import holder_unit, name_holder, outside_holder, signed_changes
from studio.kit.printing import print_day, print_quantity

from .locking import bring_up_to_date, studio_locked
from .refusal import Refused
from .writing import blank, insert_rows

Place = Holder.Place
M = TypeVar("M", bound=Model)

_MOVEMENT = (
    "INSERT INTO inventory_movement "
    "(entry_id, line, source_id, target_id, day, what, quantity, fine_ug, cost_micro, seal) "
    "VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s)"
)
_BALANCE = (
    "UPDATE inventory_holder SET quantity = %s, fine_ug = %s, cost_micro = %s, latest_day = %s WHERE id = %s"
)


@dataclass
class Line:
    source: Holder
    target: Holder
    amount: Amount
    what: str


@dataclass
class Draft:
    """An entry not yet written, with its lines."""

    entry: Entry
    lines: list[Line] = field(default_factory=list)


class Book:
    """One posting under way. Get one from `open_book`; it writes when the block ends without an exception.

    With `again` it writes that entry once more: the new entry takes its place and its turn, and what it made (lots,
    pieces, parts of a tree, a delivery) is taken up again by `reuse` and stays what it is for everybody who knows it.
    """

    def __init__(
        self, studio: Studio, by: User | None, again: Entry | None = None, turn: int | None = None
    ) -> None:
        self.studio = studio
        self.by = by
        self.again = again
        self.turn = turn
        self._reused: list[Any] = []
        self.now = timezone.now()
        self._drafts: list[Draft] = []
        self._first: list[Model] = []
        self._made: dict[type[Model], list[Any]] = {}
        self._new_holders: list[Holder] = []
        self._touched: dict[int, Holder] = {}
        self._held: dict[int, Holder] = {}
        self._outside: dict[str, Holder] = {}

    def read(self, *rows: Lot | Piece | Cast | Material | Alloy | Tin | Batch) -> None:
        """Read rows again under the lock, so that they can be judged, and take their holders in hand.

        The rows given say then what is true now. Raises Refused for a lot or piece that was taken back.
        """
        bring_up_to_date(rows)
        for row in rows:
            if getattr(row, "void", False):
                raise Refused(f"{row} was taken back meanwhile. Open the page again.")
            for name in ("holder", "crucible_holder"):
                holder = getattr(row, name, None)
                if holder is not None:
                    # Two rows may share a holder: they must share the copy whose balance the posting changes.
                    setattr(row, name, self._held.setdefault(holder.pk, holder))

    def hold(self, holder_ids: Iterable[int]) -> dict[int, Holder]:
        """Take holders in hand by their keys; those of the outside world may be among them."""
        wanted = set(holder_ids)
        for holder in Holder.objects.filter(pk__in=wanted - set(self._held)):
            self._held[holder.pk] = holder
        return {pk: self._held[pk] for pk in wanted}

    def outside(self, place: Place) -> Holder:
        if place not in self._outside:
            self._outside[place] = outside_holder(place)
        return self._outside[place]

    def new_holder(self, kind: Holder.Kind) -> Holder:
        holder = blank(Holder)
        holder.kind = kind
        self._new_holders.append(holder)
        return holder

    def make(self, instance: Model) -> None:
        """Have a row written with the posting: a lot, a piece, a part of a tree."""
        if instance.pk is None:
            self._made.setdefault(type(instance), []).append(instance)
        else:
            self._reused.append(instance)

    def reuse(self, model: type[M], **which: Any) -> M | None:
        """The first row that the entry made which is written again now, if there is one that was not taken yet."""
        if self.again is None:
            return None
        taken = [row.pk for row in self._reused if type(row) is model]
        rows = model._default_manager.filter(entry=self.again, void=False, **which).exclude(pk__in=taken)
        row = rows.order_by("pk").first()
        if isinstance(row, Lot | Piece | Batch):
            self.read(row)
        return row

    def make_first(self, instance: Model) -> None:
        """Have a row written before the entries, because they name it: a cast."""
        self._first.append(instance)

    def begin(
        self,
        kind: Entry.Kind,
        day: date,
        cast: Cast | None = None,
        piece: Piece | None = None,
        note: str = "",
        reverses: Entry | None = None,
    ) -> Draft:
        entry = blank(Entry)
        entry.kind, entry.day, entry.note = kind, day, note
        entry.recorded_at, entry.recorded_by = self.now, self.by
        entry.cast, entry.piece, entry.reverses = cast, piece, reverses
        if self.again is not None:
            entry.replaces, entry.turn = self.again, self.turn
        draft = Draft(entry)
        self._drafts.append(draft)
        return draft

    def move(self, draft: Draft, source: Holder, target: Holder, amount: Amount, what: str = "goods") -> None:
        """Add a line: `amount` leaves `source` and enters `target`. An amount of nothing adds no line."""
        if amount.is_nothing:
            return
        draft.lines.append(Line(source, target, amount, what))
        _change(source, Amount() - amount)
        _change(target, amount)
        for holder in (source, target):
            if holder.pk and holder.kind != Holder.Kind.OUTSIDE:
                self._touched[holder.pk] = holder

    def take(
        self,
        draft: Draft,
        source: Holder,
        target: Holder,
        quantity: int,
        what: str = "goods",
        field: str = "",
    ) -> Amount:
        """Draw `quantity` with its share of fine metal and cost. Raises Refused when it is not there."""
        amount = self.measure(source, quantity, field)
        self.move(draft, source, target, amount, what)
        return amount

    def measure(self, source: Holder, quantity: int, field: str = "") -> Amount:
        """What `quantity` of a holder would take with it. Raises Refused when it is not there."""
        held = balance_of(source)
        if quantity > held.quantity:
            unit = holder_unit(source)
            name = name_holder(source)
            raise Refused(
                f"{name[:1].upper()}{name[1:]} holds {print_quantity(held.quantity, unit)}; "
                f"{print_quantity(quantity, unit)} is more than that. Write less, or take the rest from another lot.",
                field,
            )
        return draw(held, quantity)

    def write(self) -> None:
        """Write everything gathered. Raises Refused when an earlier day would not hold."""
        self._drafts = [draft for draft in self._drafts if draft.lines]
        self._check_earlier_days()
        for draft in self._drafts:
            draft.entry.line_count = len(draft.lines)
        with connection.cursor() as cursor:
            insert_rows(cursor, self._new_holders)
            for instance in self._first:
                insert_rows(cursor, [instance])
            insert_rows(cursor, [draft.entry for draft in self._drafts])
            for instances in self._made.values():
                insert_rows(cursor, instances)
            for row in self._reused:
                row.entry_id = row.entry.pk
                row.save()
            self._write_movements(cursor)
            self._write_balances(cursor)

    def let_go(self) -> None:
        """Give holders in hand back what they held, for whoever shows them: nothing was written."""
        for draft in self._drafts:
            for line in draft.lines:
                _change(line.source, line.amount)
                _change(line.target, Amount() - line.amount)

    def _movements(self) -> Iterator[tuple[Any, ...]]:
        """Every line as the values of `_MOVEMENT`, with its seal."""
        for draft in self._drafts:
            entry, day = draft.entry.pk, draft.entry.day
            for number, line in enumerate(draft.lines, start=1):
                source, target, amount = line.source.pk, line.target.pk, line.amount
                seal = seal_of(entry, number, source, target, day, amount, line.what)
                numbers = (amount.quantity, amount.fine_ug, amount.cost_micro)
                yield entry, number, source, target, day, str(line.what), *numbers, seal

    def _write_movements(self, cursor: CursorWrapper) -> None:
        # Nobody asks for a movement just written, so no instance is made of it.
        if rows := list(self._movements()):
            cursor.executemany(_MOVEMENT, rows)

    def _check_earlier_days(self) -> None:
        """Judge every later day of a holder touched before its latest day, and move that day on."""
        # A line on or after a holder's latest day changes its last balance alone, which the row's own constraint
        # judges; an earlier one changes every balance since, so those are added up again from all its movements.
        changes: dict[int, list[tuple[date, Amount]]] = {}
        past: set[int] = set()
        for draft in self._drafts:
            day = draft.entry.day
            for line in draft.lines:
                for holder, sign in ((line.source, -1), (line.target, 1)):
                    if holder.kind == Holder.Kind.OUTSIDE:
                        continue
                    is_past = holder.latest_day is not None and day < holder.latest_day
                    if not is_past:
                        holder.latest_day = day
                    if holder.pk:
                        change = line.amount if sign > 0 else Amount() - line.amount
                        changes.setdefault(holder.pk, []).append((day, change))
                        past |= {holder.pk} if is_past else set()
        if past:
            for pk, before in signed_changes(past).items():
                _refuse_unsound(self._held[pk], before + changes[pk])

    def _write_balances(self, cursor: CursorWrapper) -> None:
        # The rows are locked, so absolute values are safe; one prepared statement beats a CASE per column.
        rows = [(h.quantity, h.fine_ug, h.cost_micro, h.latest_day, h.pk) for h in self._touched.values()]
        if rows:
            cursor.executemany(_BALANCE, rows)


def balance_of(holder: Holder) -> Amount:
    return Amount(holder.quantity, holder.fine_ug, holder.cost_micro)


def _change(holder: Holder, amount: Amount) -> None:
    if holder.kind != Holder.Kind.OUTSIDE:
        holder.quantity += amount.quantity
        holder.fine_ug += amount.fine_ug
        holder.cost_micro += amount.cost_micro


def _refuse_unsound(holder: Holder, changes: list[tuple[date, Amount]]) -> None:
    found = first_unsound_day(changes)
    if found is None:
        return
    day, balance = found
    name = name_holder(holder)
    if balance.quantity < 0:
        short = print_quantity(-balance.quantity, holder_unit(holder))
        raise Refused(
            f"On {print_day(day, with_year=True)} {name} would be {short} below zero. "
            "Choose a later day, take less, or enter first what came in before.",
            "day",
        )
    raise Refused(
        f"On {print_day(day, with_year=True)} the cost of {name} would not follow its grams, because a bill came in "
        "after that day. Choose a later day.",
        "day",
    )


@contextmanager
def open_book(by: User | None = None, again: Entry | None = None, turn: int | None = None) -> Iterator[Book]:
    """Lock the studio, and write what was gathered when the block ends. What is judged inside is read inside.

    One transaction: an exception inside leaves nothing. `again` is an entry that is written once more, in its `turn`.
    """
    with studio_locked() as studio:
        book = Book(studio, by, again, turn)
        try:
            yield book
            book.write()
        except BaseException:
            book.let_go()
            raise
