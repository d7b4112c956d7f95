"""The checks of the ledger's promises, one function each."""

from collections import defaultdict
from typing import Any

from django.db.models import Count, F, Max, Min, Model, QuerySet

from inventory.core.ledger import Amount, seal_of
from inventory.guards import check_guards
from inventory.models import (
    Batch,
    BillLine,
    Cast,
    Delivery,
    Entry,
    Holder,
    Lot,
    Movement,
    Piece,
    Settlement,
    TreePart,
)
from inventory.queries.kept import count_of, kept

from .reading import MEASURES, HolderSums, Ledger, name_row_of, print_amount
from .registry import Finding, checks, register_check

__all__ = ["Finding", "Ledger", "checks", "register_check"]


@register_check
def check_guards_stand(ledger: Ledger) -> Finding:
    finding = Finding("the database refuses to change posted entries", checked=1)
    finding.problems += [f"guard {name} is missing or was changed: run migrate" for name in check_guards()]
    return finding


@register_check
def check_rows_unaltered(ledger: Ledger) -> Finding:
    finding = Finding("posted movements are as they were written")
    for entry, rows in ledger.postings():
        for row in rows:
            finding.checked += 1
            seal = seal_of(row.entry, row.line, row.source, row.target, row.day, row.amount, row.what)
            if seal != row.seal or row.day != entry.day:
                finding.problems.append(
                    f"movement {row.pk} (line {row.line} of entry {row.entry}, {row.day}) was altered: "
                    f"{print_amount(row.amount)}, from holder {row.source} to holder {row.target}"
                )
    [(movements,)] = _number_of_movements()
    if stray := movements - finding.checked:
        finding.problems.append(f"{stray} movements belong to no entry")
    return finding


@kept
def _number_of_movements() -> QuerySet[Any, Any]:
    return count_of(Movement.objects.all())


@register_check
def check_entries_whole(ledger: Ledger) -> Finding:
    finding = Finding("every entry has all its lines")
    for pk, expected, *found in _lines_of_entries():
        finding.checked += 1
        # No line stands twice, so as many lines as the last has for its number are all of them.
        if found != [1, expected, expected]:
            finding.problems.append(f"entry {pk} has {found[-1]} lines and should have {expected}")
    return finding


@kept
def _lines_of_entries() -> QuerySet[Any, Any]:
    lines = F("movements__line")
    entries = Entry.objects.annotate(first=Min(lines), last=Max(lines), lines=Count(lines)).order_by("pk")
    return entries.values_list("pk", "line_count", "first", "last", "lines")


@register_check
def check_reversals_mirror(ledger: Ledger) -> Finding:
    finding = Finding("a reversal moves back exactly what it reverses", checked=len(ledger.reversed_ids))
    taken_back = ledger.taken_back()
    reversal, first = next(taken_back, (0, []))
    for entry, rows in ledger.postings(Entry.Kind.REVERSAL):
        # Both come in the order of the reversals; one whose entry lost its lines has none here.
        while reversal and reversal < entry.pk:
            reversal, first = next(taken_back, (0, []))
        back = sorted((row.target, row.source, row.what, *row.measures) for row in rows)
        there = first if reversal == entry.pk else []
        if back != sorted((row.source, row.target, row.what, *row.measures) for row in there):
            finding.problems.append(f"entry {entry.pk} does not mirror entry {entry.reverses_id}")
    return finding


@register_check
def check_reversals_in_place(ledger: Ledger) -> Finding:
    """Every date shows what was really there only if a wrong entry is taken back on its own day."""
    finding = Finding("a reversal stands on the day of what it reverses, and reverses no reversal")
    for pk, day, reverses, reversed_day, reversed_kind in _reversals():
        finding.checked += 1
        if day != reversed_day:
            finding.problems.append(f"entry {pk} of {day} reverses entry {reverses} of {reversed_day}")
        if reversed_kind == Entry.Kind.REVERSAL:
            finding.problems.append(f"entry {pk} reverses entry {reverses}, which is a reversal itself")
    return finding


@kept
def _reversals() -> QuerySet[Entry, Any]:
    reversals = Entry.objects.filter(kind=Entry.Kind.REVERSAL).order_by("pk")
    return reversals.values_list("pk", "day", "reverses_id", "reverses__day", "reverses__kind")


@register_check
def check_written_again(ledger: Ledger) -> Finding:
    finding = Finding("an entry that was mended was taken back, and its place in the book is kept")
    for pk, kind, turn, replaces, replaced_kind, replaced_turn in _mended():
        finding.checked += 1
        if replaces not in ledger.reversed_ids:
            finding.problems.append(f"entry {pk} stands for entry {replaces}, which was not taken back")
        if kind != replaced_kind or turn > (replaced_turn or replaces):
            finding.problems.append(f"entry {pk}, a {kind}, is not in the place of entry {replaces}")
    return finding


@kept
def _mended() -> QuerySet[Entry, Any]:
    mended = Entry.objects.filter(replaces__isnull=False).order_by("pk")
    return mended.values_list("pk", "kind", "turn", "replaces_id", "replaces__kind", "replaces__turn")


@register_check
def check_bills(ledger: Ledger) -> Finding:
    """What a bill says of each lot is what it moved, on what is left of them and for what was used."""
    finding = Finding("a bill's lines add up to what it moved")
    said: dict[int, int] = defaultdict(int)
    for entry, price, charges in _bill_lines():
        said[entry] += price + charges
    supplier = ledger.places[Holder.Place.SUPPLIER]
    for entry, rows in ledger.postings(Entry.Kind.LATE_BILL):
        finding.checked += 1
        moved = sum(row.cost_micro if row.source == supplier else -row.cost_micro for row in rows)
        if said.pop(entry.pk, 0) != moved:
            finding.problems.append(f"bill {entry.pk} moved {moved} millionths; its lines say otherwise")
    finding.problems += [f"entry {entry} has lines of a bill and is none" for entry in said]
    return finding


@kept
def _bill_lines() -> QuerySet[BillLine, Any]:
    return BillLine.objects.order_by("pk").values_list("entry", "price_micro", "charges_micro")


@register_check
def check_void(ledger: Ledger) -> Finding:
    finding = Finding("what an entry made is taken back with it, and only then")
    for model in (Delivery, Lot, Piece, TreePart, Batch, Settlement):
        for pk, entry_id, void in _made_by_entries(model):
            finding.checked += 1
            if void != (entry_id in ledger.reversed_ids):
                name = model._meta.verbose_name
                finding.problems.append(f"{name} {pk} is void: {void}, against its entry {entry_id}")
    return finding


@kept
def _made_by_entries(model: type[Model]) -> QuerySet[Model, Any]:
    # A part of a tree whose lot nobody noted has no entry.
    rows = model._default_manager.filter(entry__isnull=False).order_by("pk")
    return rows.values_list("pk", "entry_id", "void")


@register_check
def check_balances(ledger: Ledger) -> Finding:
    finding = Finding("what each holder shows is what its movements add up to")
    nothing = HolderSums()
    wrong: dict[int, str] = {}
    for pk, latest_day, *numbers in _holders():
        finding.checked += 1
        sums, shown = ledger.sums.get(pk, nothing), Amount(*numbers)
        if shown != sums.balance or latest_day != sums.latest_day:
            wrong[pk] = (
                f"(holder {pk}) shows {print_amount(shown)} on {latest_day}; "
                f"its movements make {print_amount(sums.balance)} on {sums.latest_day}"
            )
    names = ("lot__material", "lot__from_cast", "cast", "piece", "batch")
    named = Holder.objects.select_related(*names).in_bulk(list(wrong))
    finding.problems += [f"{name_row_of(named[pk])} {problem}" for pk, problem in wrong.items()]
    return finding


@kept
def _holders() -> QuerySet[Holder, Any]:
    holders = Holder.objects.exclude(kind=Holder.Kind.OUTSIDE).order_by("pk")
    return holders.values_list("pk", "latest_day", *MEASURES)


@register_check
def check_never_below_zero(ledger: Ledger) -> Finding:
    finding = Finding("no lot, crucible or piece is below zero on any day")
    outside = set(ledger.places.values())
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
    for entry in ledger.entries(Entry.Kind.CLOSE):
        if entry.cast_id and ledger.standing(entry):
            closes[entry.cast_id] += 1
    for pk, number, crucible, closed_on, outcome in _casts():
        finding.checked += 1
        left = ledger.balance(crucible)
        expected = 0 if closed_on is None or outcome == Cast.Outcome.UNPOURED else 1
        if closed_on is not None and not left.is_nothing:
            finding.problems.append(f"cast {number} is closed and its crucible holds {print_amount(left)}")
        if closes.get(pk, 0) != expected:
            finding.problems.append(
                f"cast {number} has {closes.get(pk, 0)} standing closings and should have {expected}"
            )
    return finding


@kept
def _casts() -> QuerySet[Cast, Any]:
    return Cast.objects.order_by("pk").values_list(
        "pk", "number", "crucible_holder_id", "closed_on", "outcome"
    )


@register_check
def check_pieces(ledger: Ledger) -> Finding:
    finding = Finding("each piece weighs what was booked, and is where its state says")
    here = (Piece.State.CAST, Piece.State.FINISHED)
    made = {row.target: row.quantity for _, rows in ledger.postings(Entry.Kind.CLOSE) for row in rows}
    for pk, holder, as_cast_mg, state, void in _pieces():
        finding.checked += 1
        weighs = ledger.balance(holder).quantity
        if made.get(holder) != as_cast_mg:
            finding.problems.append(
                f"piece {pk} says {as_cast_mg} mg as cast; {made.get(holder)} mg were booked"
            )
        if (weighs > 0) != (state in here and not void):
            finding.problems.append(f"piece {pk} is {state} and weighs {weighs} mg")
    return finding


@kept
def _pieces() -> QuerySet[Piece, Any]:
    return Piece.objects.order_by("pk").values_list("pk", "holder_id", "as_cast_mg", "state", "void")
