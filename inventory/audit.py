"""The proof of the ledger's promises over the whole database, in one pass over the movements.

Each check returns what it looked at and what is wrong, with the row's own numbers. Other apps add their checks
with `register_check`; the command `audit` runs them all.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date

from inventory.core.alloying import compute_blend_melts_milli
from inventory.core.ledger import Amount, seal_of
from inventory.guards import check_guards
from inventory.models import Cast, Entry, Holder, Lot, Movement, Piece
from inventory.queries.ledger import name_holder


@dataclass
class Finding:
    """One check: what was proved, over how many rows, and each thing wrong."""

    promise: str
    checked: int = 0
    problems: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Row:
    """A movement as the audit reads it."""

    pk: int
    entry: int
    line: int
    source: int
    target: int
    day: date
    what: str
    amount: Amount
    seal: str


@dataclass(slots=True)
class HolderSums:
    """What the movements of one holder add up to, and the first day at whose end that was unsound."""

    balance: Amount = field(default_factory=Amount)
    latest_day: date | None = None
    unsound: tuple[date, Amount] | None = None

    def change(self, day: date, amount: Amount) -> None:
        if self.latest_day is not None and day > self.latest_day:
            self.close_day()
        self.balance += amount
        self.latest_day = day

    def close_day(self) -> None:
        if self.unsound is None and self.latest_day is not None and not self.balance.is_sound:
            self.unsound = (self.latest_day, self.balance)


@dataclass(slots=True)
class Ledger:
    """The whole ledger, gathered in one pass."""

    entries: dict[int, Entry]
    rows: dict[int, list[Row]]
    sums: dict[int, HolderSums]
    reversed_ids: set[int]

    def standing(self, entry_id: int) -> bool:
        return entry_id not in self.reversed_ids and self.entries[entry_id].reverses_id is None


Check = Callable[[Ledger], Finding]
_checks: list[Check] = []


def register_check(check: Check) -> Check:
    """Add a check to the audit. Used as a decorator."""
    _checks.append(check)
    return check


def run_audit() -> list[Finding]:
    ledger = _read_ledger()
    return [check(ledger) for check in _checks]


def _read_ledger() -> Ledger:
    fields = ("id", "kind", "day", "cast_id", "piece_id", "reverses_id", "line_count")
    entries = {entry.pk: entry for entry in Entry.objects.only(*fields).order_by("pk")}
    rows: dict[int, list[Row]] = defaultdict(list)
    sums: dict[int, HolderSums] = defaultdict(HolderSums)
    for row in _stream():
        rows[row.entry].append(row)
        sums[row.source].change(row.day, Amount() - row.amount)
        sums[row.target].change(row.day, row.amount)
    for one in sums.values():
        one.close_day()
    reversed_ids = {entry.reverses_id for entry in entries.values() if entry.reverses_id}
    return Ledger(entries, rows, sums, reversed_ids)


def _stream() -> Iterator[Row]:
    columns = ("pk", "entry_id", "line", "source_id", "target_id", "day", "what")
    amounts = ("quantity", "fine_ug", "cost_micro", "seal")
    values = Movement.objects.order_by("day", "pk").values_list(*columns, *amounts)
    for pk, entry, line, source, target, day, what, quantity, fine, cost, seal in values.iterator(5000):
        amount = Amount(quantity, fine, cost)
        yield Row(pk, entry, line, source, target, day, what, amount, seal)


def print_amount(amount: Amount) -> str:
    """An amount in its raw small units, as it stands in the database."""
    return f"quantity {amount.quantity}, fine_ug {amount.fine_ug}, cost_micro {amount.cost_micro}"


@register_check
def check_guards_stand(ledger: Ledger) -> Finding:
    finding = Finding("the database refuses to change posted entries", checked=1)
    finding.problems += [f"guard {name} is missing: run migrate" for name in check_guards()]
    return finding


@register_check
def check_rows_unaltered(ledger: Ledger) -> Finding:
    finding = Finding("posted movements are as they were written")
    for entry_id, rows in ledger.rows.items():
        entry = ledger.entries[entry_id]
        for row in rows:
            finding.checked += 1
            seal = seal_of(row.entry, row.line, row.source, row.target, row.day, row.amount, row.what)
            if seal != row.seal or row.day != entry.day:
                finding.problems.append(
                    f"movement {row.pk} (line {row.line} of entry {row.entry}, {row.day}) was altered: "
                    f"{print_amount(row.amount)}, from holder {row.source} to holder {row.target}"
                )
    return finding


@register_check
def check_entries_whole(ledger: Ledger) -> Finding:
    finding = Finding("every entry has all its lines", checked=len(ledger.entries))
    for entry in ledger.entries.values():
        lines = sorted(row.line for row in ledger.rows.get(entry.pk, []))
        if lines != list(range(1, entry.line_count + 1)):
            finding.problems.append(f"entry {entry.pk} has lines {lines} and should have {entry.line_count}")
    return finding


@register_check
def check_reversals_mirror(ledger: Ledger) -> Finding:
    finding = Finding("a reversal moves back exactly what it reverses", checked=len(ledger.reversed_ids))
    for entry in ledger.entries.values():
        if entry.reverses_id is None:
            continue
        back = sorted(
            (r.target, r.source, r.what, r.amount.quantity, r.amount.fine_ug, r.amount.cost_micro)
            for r in ledger.rows.get(entry.pk, [])
        )
        first = sorted(
            (r.source, r.target, r.what, r.amount.quantity, r.amount.fine_ug, r.amount.cost_micro)
            for r in ledger.rows.get(entry.reverses_id, [])
        )
        if back != first:
            finding.problems.append(f"entry {entry.pk} does not mirror entry {entry.reverses_id}")
    return finding


@register_check
def check_balances(ledger: Ledger) -> Finding:
    finding = Finding("what each holder shows is what its movements add up to")
    holders = Holder.objects.exclude(kind=Holder.Kind.OUTSIDE).select_related(
        "lot__material", "cast", "piece"
    )
    for holder in holders.iterator(chunk_size=5000):
        finding.checked += 1
        sums = ledger.sums.get(holder.pk, HolderSums())
        shown = Amount(holder.quantity, holder.fine_ug, holder.cost_micro)
        if shown != sums.balance or holder.latest_day != sums.latest_day:
            finding.problems.append(
                f"{name_holder(holder)} (holder {holder.pk}) shows {print_amount(shown)} on {holder.latest_day}; "
                f"its movements make {print_amount(sums.balance)} on {sums.latest_day}"
            )
    return finding


@register_check
def check_never_below_zero(ledger: Ledger) -> Finding:
    finding = Finding("no lot, crucible or piece is below zero on any day")
    outside = set(Holder.objects.filter(kind=Holder.Kind.OUTSIDE).values_list("pk", flat=True))
    for pk, sums in ledger.sums.items():
        if pk in outside:
            continue
        finding.checked += 1
        if sums.unsound is not None:
            day, balance = sums.unsound
            finding.problems.append(f"holder {pk} at the end of {day}: {print_amount(balance)}")
    return finding


@register_check
def check_closed_casts(ledger: Ledger) -> Finding:
    """Promise 3: charge = pieces + reclaim + loss, in all three measures, and an empty crucible."""
    finding = Finding("a closed cast's crucible is empty, and what went in came out somewhere")
    closes: dict[int, int] = defaultdict(int)
    for entry in ledger.entries.values():
        if entry.kind == Entry.Kind.CLOSE and entry.cast_id and ledger.standing(entry.pk):
            closes[entry.cast_id] += 1
    for cast in Cast.objects.only("number", "crucible_holder_id", "closed_on").iterator(chunk_size=2000):
        finding.checked += 1
        left = ledger.sums.get(cast.crucible_holder_id, HolderSums()).balance
        expected = 1 if cast.is_closed else 0
        if cast.is_closed and not left.is_nothing:
            finding.problems.append(
                f"cast {cast.number} is closed and its crucible holds {print_amount(left)}"
            )
        if closes.get(cast.pk, 0) != expected:
            finding.problems.append(
                f"cast {cast.number} has {closes.get(cast.pk, 0)} standing closings and should have {expected}"
            )
    return finding


@register_check
def check_pieces(ledger: Ledger) -> Finding:
    finding = Finding("each piece weighs what was booked, and is where its state says")
    here = (Piece.State.CAST, Piece.State.FINISHED)
    made = {
        row.target: row.amount.quantity
        for entry in ledger.entries.values()
        if entry.kind == Entry.Kind.CLOSE
        for row in ledger.rows.get(entry.pk, [])
    }
    for piece in Piece.objects.only("holder_id", "entry_id", "as_cast_mg", "state", "void").iterator(2000):
        finding.checked += 1
        weighs = ledger.sums.get(piece.holder_id, HolderSums()).balance.quantity
        if piece.void != (piece.entry_id in ledger.reversed_ids):
            finding.problems.append(
                f"piece {piece.pk} is void: {piece.void}, against its entry {piece.entry_id}"
            )
        if made.get(piece.holder_id) != piece.as_cast_mg:
            finding.problems.append(
                f"piece {piece.pk} says {piece.as_cast_mg} mg as cast; {made.get(piece.holder_id)} mg were booked"
            )
        if (weighs > 0) != (piece.state in here and not piece.void):
            finding.problems.append(f"piece {piece.pk} is {piece.state} and weighs {weighs} mg")
    return finding


@register_check
def check_lots(ledger: Ledger) -> Finding:
    """Customers' metal has no cost and stays its owner's; melts follow from what went into the crucible."""
    finding = Finding(
        "customers' metal has no cost and stays theirs; melts are right; void lots are reversed ones"
    )
    lots = {lot.holder_id: lot for lot in Lot.objects.select_related("from_cast")}
    charged: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for entry in ledger.entries.values():
        if entry.kind != Entry.Kind.CHARGE or not ledger.standing(entry.pk):
            continue
        for row in ledger.rows.get(entry.pk, []):
            if row.source in lots:
                charged[entry.cast_id or 0].append((row.amount.quantity, lots[row.source].melts_milli))
    for lot in lots.values():
        finding.checked += 1
        finding.problems += _lot_problems(lot, ledger, charged)
    return finding


def _lot_problems(lot: Lot, ledger: Ledger, charged: dict[int, list[tuple[int, int]]]) -> Iterator[str]:
    if lot.void != (lot.entry_id in ledger.reversed_ids):
        yield f"lot {lot.pk} is void: {lot.void}, against its entry {lot.entry_id}"
    cost = ledger.sums.get(lot.holder_id, HolderSums()).balance.cost_micro
    if lot.owner_id is not None and cost:
        yield f"lot {lot.pk} belongs to a customer and carries cost_micro {cost}"
    if lot.from_cast is None or lot.void:
        return
    if lot.from_cast.owner_id != lot.owner_id:
        yield f"lot {lot.pk} and the cast it came from have different owners"
    portions = charged.get(lot.from_cast_id or 0, [])
    if portions and compute_blend_melts_milli(portions) != lot.melts_milli:
        yield f"lot {lot.pk} says {lot.melts_milli} melts_milli; its charge makes {compute_blend_melts_milli(portions)}"
