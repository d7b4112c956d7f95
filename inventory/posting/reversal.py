"""The one correction: an entry is reversed by its mirror, and posted again if need be."""

from collections.abc import Callable

from django.contrib.auth.models import User
from django.db.models import Q

from inventory.core.ledger import Amount
from inventory.models import Cast, Delivery, Entry, Lot, Piece, TreePart
from inventory.queries.ledger import describe_entry, later_users, standing_entries

from .book import open_book
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
        for effect in (_void_what_it_made, _EFFECTS.get(entry.kind)):
            if effect is not None:
                effect(entry)
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


def _reopen_cast(entry: Entry) -> None:
    Cast.objects.filter(entries=entry).update(closed_on=None, outcome="")


def _restore_states(entry: Entry) -> None:
    """Each piece of an entry goes back to the state of its last standing entry."""
    states = {
        Entry.Kind.FINISH: Piece.State.FINISHED,
        Entry.Kind.SALE: Piece.State.SOLD,
        Entry.Kind.MELT_BACK: Piece.State.MELTED,
    }
    moved = Q(holder__movements_out__entry=entry) | Q(holder__movements_in__entry=entry)
    for piece in Piece.objects.filter(moved).select_related("entry").distinct():
        touched = Q(movements__source=piece.holder_id) | Q(movements__target=piece.holder_id)
        last = (
            standing_entries().filter(touched, kind__in=states).exclude(pk=entry.pk).order_by("-pk").first()
        )
        piece.state = states[Entry.Kind(last.kind)] if last else Piece.State.CAST
        piece.state_on = last.day if last else piece.entry.day
        piece.save(update_fields=["state", "state_on"])


_EFFECTS: dict[str, Callable[[Entry], None]] = {
    Entry.Kind.CLOSE: _reopen_cast,
    Entry.Kind.FINISH: _restore_states,
    Entry.Kind.SALE: _restore_states,
    Entry.Kind.MELT_BACK: _restore_states,
}
