"""The one correction: an entry is reversed by its mirror, and posted again if need be."""

from django.contrib.auth.models import User

from inventory.core.ledger import Amount
from inventory.models import Delivery, Entry, Lot, Piece, TreePart
from inventory.queries.ledger import describe_entry, later_users, standing_entries

from .book import open_book
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
        movements = list(entry.movements.order_by("line"))
        holders = book.hold({pk for line in movements for pk in (line.source_id, line.target_id)})
        draft = book.begin(
            Entry.Kind.REVERSAL, entry.day, cast=entry.cast, piece=entry.piece, note=note, reverses=entry
        )
        draft.entry.bill_for = entry.bill_for
        for line in movements:
            amount = Amount(line.quantity, line.fine_ug, line.cost_micro)
            book.move(draft, holders[line.target_id], holders[line.source_id], amount, line.what)
        _void_what_it_made(entry)
        undo = KINDS[Entry.Kind(entry.kind)].undo
        if undo is not None:
            undo(entry)
    return draft.entry


def _refuse_unreversible(entry: Entry) -> None:
    if entry.reverses_id is not None:
        raise Refused("This is a reversal already. Post the entry again instead.")
    if not standing_entries().filter(pk=entry.pk).exists():
        raise Refused("This entry has been reversed already.")
    users = later_users(entry)
    if users:
        names = "; ".join(describe_entry(user) for user in users[:10])
        more = f"; and {len(users) - 10} more" if len(users) > 10 else ""
        raise Refused(
            f"What this entry moved has been used or weighed again since. Reverse first, in this order: {names}{more}.",
            blockers=[user.pk for user in users],
        )


def _void_what_it_made(entry: Entry) -> None:
    Lot.objects.filter(entry=entry).update(void=True)
    Piece.objects.filter(entry=entry).update(void=True)
    TreePart.objects.filter(entry=entry).update(void=True)
    Delivery.objects.filter(entry=entry).update(void=True)
