"""Reads for the pages of the ledger: entries, their lines with the names of both ends, and reversals."""

from dataclasses import dataclass

from django.db.models import QuerySet

from inventory.models import Entry, Holder, Movement

from .ledger import holder_unit

_ENDS = ("source", "target")
_NAMES = ("lot__material", "lot__from_cast", "cast", "piece__cast")


def entries_with_names() -> QuerySet[Entry]:
    """Entries with all that a row of the ledger says, in one query."""
    return Entry.objects.select_related("cast", "piece", "recorded_by", "reverses", "reversed_by")


def lines_with_names(entry: Entry) -> QuerySet[Movement]:
    """The lines of an entry with what names both their ends, in one query."""
    names = [f"{end}__{name}" for end in _ENDS for name in _NAMES]
    return entry.movements.select_related(*_ENDS, *names).order_by("line")


def line_unit(line: Movement) -> str:
    """The unit of a line's quantity: that of the lot at one end, else mass."""
    for holder in (line.source, line.target):
        if holder.kind == Holder.Kind.LOT:
            return holder_unit(holder)
    return "mass"


@dataclass(frozen=True, slots=True)
class Effects:
    """What an entry made that a reversal strikes out."""

    lots: int
    pieces: int

    @property
    def sentence(self) -> str:
        parts = [
            f"{count} {word}" if count == 1 else f"{count} {word}s"
            for count, word in ((self.lots, "lot"), (self.pieces, "piece"))
            if count
        ]
        if not parts:
            return ""
        count = self.lots + self.pieces
        return f"{' and '.join(parts)} that it made {'is' if count == 1 else 'are'} struck out."


def effects_of(entry: Entry) -> Effects:
    return Effects(entry.lots_made.count(), entry.pieces_made.count())
