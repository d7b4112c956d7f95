"""What was written wrong is mended where it stands, and everything that stands on it follows.

A posted entry never changes. So the entry, and every later one that had to do with the same lots, crucibles and
pieces, is reversed on its own day and written again in the old order: with the quantities that were weighed, counted
and paid then, and the fine metal, cost, losses and melts that follow now. All of it, or, when something that was
weighed cannot be any more, none.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from hashlib import blake2b
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from inventory.models import Entry, Lot
from inventory.queries.dependents import Changed, compare, entries_on, standing_of
from inventory.queries.ledger import describe_entry, standing_entries, turn_of

from .again import lots_given
from .book import open_book
from .kinds import ARRIVALS, KINDS
from .locking import studio_locked
from .refusal import Refused
from .reversal import take_back, void_what_they_made


@dataclass(frozen=True)
class Mend:
    """An entry as it should have been: on which day, and what was given for it in the words of its kind.

    `given` None leaves all of it out: it should not have been written at all.
    """

    day: date
    given: Any


def read_given(entry: Entry) -> Any:
    """What a person gave for an entry, as its kind reads it: what a form of mending begins with."""
    return KINDS[Entry.Kind(entry.kind)].again.read(entry)


def post_mended(mends: Mapping[Entry, Mend], note: str = "", by: User | None = None) -> list[Entry]:
    """Write entries as they should have been, and again everything that stands on them. Returns what was reversed.

    Raises Refused, and nothing has changed, for an entry that does not stand any more, and when a later weighing
    cannot be true with what is mended: the sentence names it.
    """
    with studio_locked():
        affected = _find_affected(mends)
        _write(mends, affected, note, by)
    return affected


def _find_affected(mends: Mapping[Entry, Mend]) -> list[Entry]:
    keys = {entry.pk: lots_given(mend.given) for entry, mend in mends.items()}
    if standing_entries().filter(pk__in=keys).count() != len(keys):
        raise Refused("This was taken back or mended meanwhile. Open its page again.")
    return entries_on(keys)


def _write(mends: Mapping[Entry, Mend], affected: Sequence[Entry], note: str, by: User | None) -> list[Entry]:
    """Take back what is affected, and write it again in turn. Returns the counts that agree now and left no entry."""
    by_key = {entry.pk: mend for entry, mend in mends.items()}
    again = {entry.pk: by_key.get(entry.pk) or Mend(entry.day, read_given(entry)) for entry in affected}
    turns = _turns(affected, by_key)
    with open_book(by) as book:
        take_back(book, affected[::-1], note)
    agreed: list[Entry] = []
    for entry in sorted(affected, key=lambda entry: turns[entry.pk]):
        mend, turn = again[entry.pk], turns[entry.pk][0]
        written = _write_again(entry, mend, turn, entry.pk in by_key, by)
        if written is None and mend.given is not None and entry.kind == Entry.Kind.COUNT:
            agreed.append(entry)
        # What it no longer makes is gone before anybody later asks for it.
        void_what_they_made([entry])
    return agreed


def _turns(affected: Sequence[Entry], mends: Mapping[int, Mend]) -> dict[int, tuple[int, bool, int]]:
    """The order in which entries are written again. What brought in a lot that a mended entry draws on comes before it,
    though it was written later: a delivery that somebody forgot."""
    turns = {entry.pk: (turn_of(entry), True, entry.pk) for entry in affected}
    arrivals = {entry.pk: entry for entry in affected if entry.kind in ARRIVALS}
    for entry in affected:
        mend = mends.get(entry.pk)
        brought = Lot.objects.filter(holder__in=lots_given(mend.given), entry__in=arrivals) if mend else ()
        for lot in brought:
            if turns[lot.entry_id] > turns[entry.pk]:
                turns[lot.entry_id] = (turns[entry.pk][0], False, lot.entry_id)
    return turns


def _write_again(entry: Entry, mend: Mend, turn: int, is_mended: bool, by: User | None) -> object:
    if mend.given is None:
        return None
    try:
        with open_book(by, entry, turn) as book:
            again = KINDS[Entry.Kind(entry.kind)].again
            written = again.write(book, entry, mend.given, mend.day)
        if again.then is not None:
            again.then()
        return written
    except Refused as refused:
        if is_mended:
            raise
        sentence = f"Then this cannot be any more: {describe_entry(entry)}. {refused}"
        raise Refused(sentence, blockers=[entry.pk]) from refused


@dataclass(frozen=True)
class Foreseen:
    """What mending would do: how many later entries it writes again, and what would change in it.

    `changes` are those that a page can show; `slight` ones are less than a penny. `agreed` are the counts that would
    agree with the book and keep no entry.
    """

    later: int
    all_changes: list[Changed]
    agreed: list[Entry]

    @property
    def changes(self) -> list[Changed]:
        return [one for one in self.all_changes if one.is_seen]

    @property
    def slight(self) -> int:
        return len(self.all_changes) - len(self.changes)

    @property
    def mark(self) -> str:
        """The same for the same changes: what a person saw and agreed to."""
        said = repr([(one.name, one.before, one.after) for one in self.all_changes])
        return blake2b(said.encode(), digest_size=12).hexdigest()


def post_agreed(mends: Mapping[Entry, Mend], mark: str, note: str = "", by: User | None = None) -> Foreseen:
    """Mend, and leave it so where what changes has this mark; else undo it. Either way, what changes.

    Raises Refused as `post_mended` does.
    """
    with studio_locked():
        affected = _find_affected(mends)
        before = standing_of(affected)
        newest = Entry.objects.order_by("-pk").values_list("pk", flat=True)[0]
        agreed = _write(mends, affected, note, by)
        after = standing_of([*affected, *Entry.objects.filter(pk__gt=newest)])
        foreseen = Foreseen(len(affected) - len(mends), compare(before, after), agreed)
        if foreseen.mark != mark:
            transaction.set_rollback(True)
    return foreseen
