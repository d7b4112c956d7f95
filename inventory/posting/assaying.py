"""Postings of what a fineness turned out to be: fine metal is put right, and how well it is known follows."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import reduce
from operator import add

from django.contrib.auth.models import User
from django.db.models import Q

from inventory.core.fineness import PPM_WHOLE, Known, Melt, first_day_beyond, know, know_portion
from inventory.core.ledger import Amount
from inventory.models import CarriedOn, Cast, Entry, FinenessNote, Holder, Lot
from inventory.queries.fineness import (
    Spread,
    is_unproved,
    read_melts,
    spread_of,
    standing_notes,
)
from inventory.queries.ledger import name_holder, name_lot, signed_changes
from studio.kit.printing import print_day

from .book import Book, open_book
from .locking import studio_locked
from .refusal import Refused

By = Lot.FinenessBy
#: What a cast keeps of how well the fineness of its charge is known.
KNOWN_FIELDS = ["fineness_is_guess", "fine_low_ug", "fine_high_ug"]


@dataclass(frozen=True)
class Assay:
    """What a lot's fineness is now said to be, in parts per million: measured (both ends alike), or a guess.

    `goes_on` carries it on through what was made of the lot before.
    """

    lot: Lot
    low_ppm: int
    high_ppm: int
    is_guess: bool = False
    by_whom: str = ""
    paper: str = ""
    goes_on: bool = False


def post_assay(assay: Assay, day: date, note: str = "", by: User | None = None) -> Entry:
    """Put the fine metal of a lot right. Raises Refused where there is nothing to put right, and for a day on which
    something would hold more fine metal than it weighs."""
    with studio_locked():
        with open_book(by) as book:
            entry = add_assay(book, assay, day, note)
        renew_knowing()
    return entry


def add_assay(book: Book, assay: Assay, day: date, note: str = "") -> Entry:
    """The caller renews what is known (`renew_knowing`) once the book is written."""
    lot = assay.lot
    book.read(lot)
    _refuse_unfit(assay, day)
    spread = spread_of(lot, assay.low_ppm, assay.high_ppm, assay.goes_on)
    held = book.hold(one.holder.pk for one in spread.changes)
    draft = book.begin(Entry.Kind.ASSAY, day, note=note)
    place = book.outside(Holder.Place.ASSAY)
    _refuse_more_than_metal(spread, day)
    for one in spread.changes:
        holder = held[one.holder.pk]
        # All goes to the place and the right amount comes back: so what was right already stands in the book too.
        book.move(draft, holder, place, Amount(fine_ug=holder.fine_ug))
        book.move(draft, place, holder, Amount(fine_ug=one.fine_ug))
    if not draft.lines:
        raise Refused(
            f"Nothing of {name_lot(lot)} is here"
            + (", nor of what was made of it." if assay.goes_on else ". Carry it on to what was made of it."),
            "" if assay.goes_on else "goes_on",
        )
    _make_note(book, draft.entry, assay, spread)
    return draft.entry


def _make_note(book: Book, entry: Entry, assay: Assay, spread: Spread) -> None:
    said = FinenessNote(
        lot=assay.lot,
        entry=entry,
        fineness_by=By.GUESS if assay.is_guess else By.ASSAYED,
        low_ppm=assay.low_ppm,
        high_ppm=assay.high_ppm,
        by_whom=assay.by_whom,
        paper=assay.paper,
        goes_on=assay.goes_on,
    )
    book.make(said)
    for mix in spread.mixes:
        book.make(CarriedOn(note=said, holder_id=mix))


def _refuse_unfit(assay: Assay, day: date) -> None:
    lot = assay.lot
    if not lot.material.fineness:
        raise Refused(f"{lot.material} has no precious metal to assay.")
    if not 0 <= assay.low_ppm <= assay.high_ppm <= PPM_WHOLE:
        raise Refused("A fineness is from 0 to 1000, and from the lower figure to the higher.", "low")
    if day < lot.received_on:
        came = print_day(lot.received_on, with_year=True)
        raise Refused(f"This lot came on {came}: choose that day or a later one.", "day")


def _refuse_more_than_metal(spread: Spread, day: date) -> None:
    """Nothing may hold less than no fine metal, or more than it weighs, on that day and ever since."""
    changes = signed_changes(one.holder.pk for one in spread.changes)
    for one in spread.changes:
        found = first_day_beyond(changes[one.holder.pk], day, one.change_ug)
        if found is not None:
            name = name_holder(one.holder)
            raise Refused(
                f"On {print_day(found, with_year=True)} {name} held too little metal for that, or none yet. "
                "Choose a later day.",
                "day",
            )


#: How a fineness is known, and its ends in parts per million where it has any.
Says = tuple[str, int | None, int | None]


def renew_knowing(but: Collection[Entry] = ()) -> None:
    """Write down anew what is known of every mix and of what came of it; `but` are entries about to be taken back.

    Only what differs is written.
    """
    melts = read_melts(but)
    nothing = Melt(Known())
    unsure = [mix for mix, melt in melts.items() if melt.known.is_guess or melt.known.low_ug is not None]
    changed = set()
    which = Q(crucible_holder__in=unsure) | Q(fineness_is_guess=True) | Q(fine_low_ug__isnull=False)
    for cast in Cast.objects.filter(which):
        known = melts.get(cast.crucible_holder_id, nothing).known
        now = (known.is_guess, known.low_ug, known.high_ug)
        if now != (cast.fineness_is_guess, cast.fine_low_ug, cast.fine_high_ug):
            set_known(cast, known)
            cast.save(update_fields=KNOWN_FIELDS)
            changed.add(cast.pk)
    of_lots = Q(holder__in=list(melts))
    _renew_lots(Q(from_cast__in=changed) | of_lots | Q(fineness_notes__isnull=False), melts, but)


def _renew_lots(which: Q, melts: Mapping[int, Melt], but: Collection[Entry]) -> None:
    said = {note.lot_id: note for note in standing_notes(but)}
    for lot in Lot.objects.filter(which).select_related("material", "from_cast").distinct():
        now = say_of_lot(lot, said.get(lot.pk), melts)
        if now != (lot.fineness_by, lot.fine_low_ppm, lot.fine_high_ppm):
            lot.fineness_by, lot.fine_low_ppm, lot.fine_high_ppm = now
            lot.save(update_fields=["fineness_by", "fine_low_ppm", "fine_high_ppm"])


def say_of_lot(lot: Lot, note: FinenessNote | None, melts: Mapping[int, Melt]) -> Says:
    if note is not None:
        return note.fineness_by, note.low_ppm, note.high_ppm
    crucible = lot.from_cast.crucible_holder_id if lot.from_cast else None
    return say_unsaid(lot.holder_id, crucible, is_unproved(lot.origin, lot.material), melts)


def say_unsaid(holder: int, crucible: int | None, is_unproved: bool, melts: Mapping[int, Melt]) -> Says:
    """How the fineness of a lot is known of which nothing was said, and its ends: by the lots that it was made of, else
    its charge, else its origin. The lot and its crucible go by their holders."""
    if holder in melts:
        return melts[holder].says
    if crucible is None:
        return (By.GUESS if is_unproved else By.MARKED), None, None
    return say_of_charge(melts.get(crucible, Melt(Known())).known)


def say_of_charge(known: Known) -> Says:
    """The same of what comes out of a crucible."""
    return Melt(known).says


def say_as_known(made: Lot, parts: Sequence[tuple[Lot, Amount]]) -> None:
    """What was made of parts of lots, without a melt, is known as well as they are: a guess where any of them is."""
    known = (
        know_portion(part.quantity, part.fine_ug, lot.fineness_by, lot.fine_low_ppm, lot.fine_high_ppm)
        for lot, part in parts
    )
    made.fineness_by, made.fine_low_ppm, made.fine_high_ppm = reduce(add, known).says


def known_in(cast: Cast) -> Known:
    """What is known of what is in a crucible. A charge that was taken back leaves no doubt behind."""
    held = cast.crucible_holder
    if not held.quantity:
        return Known()
    return Known(held.quantity, held.fine_ug, cast.fine_low_ug, cast.fine_high_ug, cast.fineness_is_guess)


def known_portion(cast: Cast, lot: Lot, amount: Amount) -> Known:
    """What is known of a portion of a lot that goes into a cast."""
    known = know(amount.quantity, amount.fine_ug, lot.fineness_is_guess, lot.fine_low_ppm, lot.fine_high_ppm)
    return known if is_of_its_metal(cast, lot) else known.without_fine


def is_of_its_metal(cast: Cast, lot: Lot) -> bool:
    return lot.material.alloy is not None and lot.material.alloy.metal == cast.alloy.metal


def set_known(cast: Cast, known: Known) -> None:
    cast.fineness_is_guess, cast.fine_low_ug, cast.fine_high_ug = known.is_guess, known.low_ug, known.high_ug


def forget(entries: Sequence[Entry], gone: Sequence[Entry]) -> None:
    """What assays said is no longer known once all of `gone` are gone."""
    renew_knowing(gone)
