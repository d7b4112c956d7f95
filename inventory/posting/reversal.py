"""The one correction: an entry is reversed by its mirror, and posted again if need be."""

from collections import defaultdict
from collections.abc import Sequence

from django.contrib.auth.models import User

from inventory.core.ledger import Amount
from inventory.models import Batch, Delivery, Entry, Lot, Movement, Piece, Settlement, TreePart
from inventory.queries.ledger import describe_entry, later_users, standing_entries

from .book import Book, open_book
from .kinds import KINDS
from .refusal import Refused


def post_reversal(entry: Entry, note: str = "", by: User | None = None) -> Entry:
    """Undo a posted entry by an entry that moves everything back, on the day of the original.

    The same day, because what was written wrong did not happen on that day: every date and period then shows
    what was really there, and both entries stay in the history. Raises Refused, naming the entries to reverse
    first, newest first, when later entries build on what this one did.
    """
    with open_book(by) as book:
        _refuse_unreversible(entry)
        [reversal] = take_back(book, [entry], note)
        void_what_they_made([entry])
    return reversal


def take_back(book: Book, entries: Sequence[Entry], note: str = "") -> list[Entry]:
    """Reverse entries in an open book, newest first, and undo what is not a line of them. What they made stays."""
    lines = defaultdict(list)
    for line in Movement.objects.filter(entry__in=entries).order_by("line"):
        lines[line.entry_id].append(line)
    ends = {pk for moved in lines.values() for line in moved for pk in (line.source_id, line.target_id)}
    holders, drafts = book.hold(ends), []
    for entry in entries:
        draft = book.begin(
            Entry.Kind.REVERSAL, entry.day, cast=entry.cast, piece=entry.piece, note=note, reverses=entry
        )
        draft.entry.bill_for = entry.bill_for
        for line in lines[entry.pk]:
            amount = Amount(line.quantity, line.fine_ug, line.cost_micro)
            book.move(draft, holders[line.target_id], holders[line.source_id], amount, line.what)
        drafts.append(draft.entry)
    by_undo = defaultdict(list)
    for entry in entries:
        by_undo[KINDS[Entry.Kind(entry.kind)].undo].append(entry)
    for undo, undone in by_undo.items():
        if undo is not None:
            undo(undone, entries)
    return drafts


def _refuse_unreversible(entry: Entry) -> None:
    if entry.reverses_id is not None:
        raise Refused("This takes another line back already. Write what happened down again instead.")
    if not standing_entries().filter(pk=entry.pk).exists():
        raise Refused("This line in the book was taken back already.")
    users = later_users(entry)
    if users:
        names = "; ".join(describe_entry(user) for user in users[:10])
        more = f"; and {len(users) - 10} more" if len(users) > 10 else ""
        raise Refused(
            f"What this moved has been used or weighed again since. Take back first, in this order: {names}{more}.",
            blockers=[user.pk for user in users],
        )


def void_what_they_made(entries: Sequence[Entry]) -> None:
    for model in (Lot, Piece, TreePart, Delivery, Batch, Settlement):
        model._default_manager.filter(entry__in=entries).update(void=True)
