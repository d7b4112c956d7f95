"""The demo's vacuum gauge: three casts of the year were poured below what the pump usually draws, and two failed."""

from dataclasses import replace

from inventory.posting.casting import PourNotes

#: By the place of a cast in the year: a seal that was not clean, a flask that let air through until it cracked, and
#: one that came out well nevertheless. Tenths of inHg.
LOW = {6: 231, 11: 174, 19: 236}


def read_gauge(place: int, notes: PourNotes) -> PourNotes:
    """What was written down at the pour of a cast, with its vacuum where it was low."""
    return replace(notes, vacuum_inhg_tenths=LOW[place]) if place in LOW else notes
