"""Reads of how well fineness is known: what was said of lots, every mix, and what an assay would put right."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import reduce
from operator import or_
from typing import Any

from django.db.models import F, Q, QuerySet

from inventory.core.fineness import (
    By,
    Melt,
    Mixed,
    Said,
    compute_middle_ug,
    compute_put_right_ug,
    know_mixes,
    spread_assay,
    spread_within,
)
from inventory.core.ledger import Amount
from inventory.core.trace import gather_mixes
from inventory.models import (
    Batch,
    CarriedOn,
    Cast,
    Entry,
    FinenessNote,
    Holder,
    Lot,
    Material,
    Movement,
    Piece,
)
from studio.kit.printing import print_fineness
from studio.kit.units import round_half_up

from .kept import kept
from .ledger import TURN_OF_ITS_ENTRY, name_holder, stands
from .trace import MIXED, mixing_lines

_SENT = Q(entry__kind=Entry.Kind.SEND)

#: Where somebody gives their word for it: a maker, a seller, or a refiner, who assays what they give back.
PROVED = (Lot.Origin.BOUGHT, Lot.Origin.OPENING, Lot.Origin.REFINED)
#: Metal for whose fineness no maker and no crucible of the studio gives a word.
UNPROVED = Q(from_cast=None) & (
    ~Q(origin__in=PROVED) | (Q(material__form=Material.Form.SCRAP) & ~Q(origin=Lot.Origin.REFINED))
)


def is_unproved(origin: str, material: Material) -> bool:
    """The same of a lot that came in from outside."""
    if origin == Lot.Origin.REFINED:
        return False
    return origin not in PROVED or material.form == Material.Form.SCRAP


def standing_notes(but: Collection[Entry] = ()) -> QuerySet[FinenessNote]:
    """What was said and counts, in turn; `but` are entries about to be taken back."""
    notes = FinenessNote.objects.filter(stands("entry__")).exclude(entry__in=[entry.pk for entry in but])
    return notes.annotate(turn=TURN_OF_ITS_ENTRY).order_by("turn", "pk")


def read_said(but: Collection[Entry] = ()) -> dict[int, list[Said]]:
    """All that was said of each lot. One query."""
    said: dict[int, list[Said]] = {}
    gone = {entry.pk for entry in but}
    for entry, lot, *what in _all_said():
        if entry not in gone:
            said.setdefault(lot, []).append(Said(*what))
    return said


@kept
def _all_said() -> QuerySet[FinenessNote, Any]:
    # "Any", because mypy does not follow what is annotated.
    notes: Any = standing_notes()
    return notes.values_list("entry", "lot", "turn", "fineness_by", "low_ppm", "high_ppm", "goes_on")


def read_mixed(but: Collection[Entry] = ()) -> list[Mixed]:
    """Every standing portion of a charge, of a lot made of lots and of a batch, each after those whose metal is in it;
    mixes go by their holders. Four queries."""
    own = ("target", "source__lot", "quantity", "fine_ug", "source", "target__kind")
    of = ("source__lot__from_cast__crucible_holder", "source__lot__material__alloy__metal")
    gone = [entry.pk for entry in but]
    rows = mixing_lines((*MIXED, _SENT), *own, *of, "entry__cast__alloy__metal", but=gone)
    unproved = unproved_lots()
    of_lots = {row[3] for row in rows}
    portions = []
    for turn, _, _, mix, lot, mass_mg, fine_ug, holder, kind, crucible, metal, cast_metal in rows:
        counts = kind != Holder.Kind.CRUCIBLE or metal == cast_metal
        made_by: int | None = crucible
        by: str | None = By.CHARGE if crucible else By.GUESS if lot in unproved else By.MARKED
        if holder in of_lots:
            made_by, by = holder, None
        portions.append((mix, Mixed(mix, turn, lot, mass_mg, fine_ug if counts else 0, made_by, by, counts)))
    return [portion for mixed in gather_mixes(portions).values() for portion in mixed]


def unproved_lots() -> set[int]:
    """The keys of metal for whose fineness nobody gives a word. One query."""
    return {lot for (lot,) in _unproved()}


@kept
def _unproved() -> QuerySet[Lot, Any]:
    return Lot.objects.filter(UNPROVED, material__kind=Material.Kind.METAL).order_by().values_list("pk")


def read_melts(but: Collection[Entry] = ()) -> dict[int, Melt]:
    """What is known of every mix, by its holder. Five queries."""
    return know_mixes(read_mixed(but), read_said(but))


@dataclass(frozen=True)
class PutRight:
    """A holder and the fine metal that it would hold, in micrograms."""

    holder: Holder
    fine_ug: int

    @property
    def name(self) -> str:
        """ "Leaf of cast 12", or as the holder is called anyway."""
        name = name_holder(self.holder)
        if self.holder.kind == Holder.Kind.PIECE:
            name += f" of cast {self.holder.piece.cast.number}"
        return name[:1].upper() + name[1:]

    @property
    def before(self) -> str:
        return print_fineness(self.holder.fine_ug, self.holder.quantity)

    @property
    def after(self) -> str:
        return print_fineness(self.fine_ug, self.holder.quantity)

    @property
    def change_ug(self) -> int:
        return self.fine_ug - self.holder.fine_ug


@dataclass(frozen=True)
class Spread:
    """What an assay would put right: what is here of the lot and, carried on, of what was made of it; and the holders
    of the mixes that its metal went into, whether any of it is there or not."""

    changes: list[PutRight]
    mixes: list[int]

    @property
    def casts(self) -> QuerySet[Cast]:
        return Cast.objects.filter(crucible_holder__in=self.mixes)


def spread_of(lot: Lot, low_ppm: int, high_ppm: int, goes_on: bool) -> Spread:
    """Nine queries, none where it is not carried on."""
    changes: list[PutRight] = []
    own = lot.holder
    if own.quantity:
        changes.append(PutRight(own, compute_middle_ug(own.quantity, low_ppm, high_ppm)))
    if not goes_on:
        return Spread(changes, [])
    said = read_said()
    more = spread_assay(read_mixed(), lot.pk, Fraction(low_ppm + high_ppm, 2), said)
    for mix, holder in _holders_of(more, said):
        changes.append(PutRight(holder, compute_put_right_ug(holder.quantity, holder.fine_ug, more[mix])))
    return Spread(changes, list(more))


def is_in_mixes(lot: Lot) -> bool:
    """Whether something was made of a lot: a melt, a lot made of lots, a batch. One query."""
    into = reduce(or_, (*MIXED, _SENT))
    return Movement.objects.filter(into, stands("entry__"), source=lot.holder).exists()


def _holders_of(mixes: Iterable[int], said: Collection[int]) -> list[tuple[int, Holder]]:
    """What is here of mixes, with its mix: crucibles, batches, pieces, and lots that nobody assayed by themselves."""
    keys = list(mixes)
    names = ("lot__material", "lot__from_cast", "cast", "piece__cast", "batch")
    here = Holder.objects.filter(quantity__gt=0).select_related(*names)
    found: list[tuple[int, Holder]] = []
    itself = here.filter(pk__in=keys).annotate(mix=F("pk"))
    of_casts = (
        here.filter(**{f"{path}__in": keys}).exclude(pk__in=keys).annotate(mix=F(path))
        for path in ("piece__cast__crucible_holder", "lot__from_cast__crucible_holder")
    )
    for rows in (itself, *of_casts):
        found += [(row.mix, row) for row in rows.order_by("pk")]
    return [(mix, one) for mix, one in found if one.kind != Holder.Kind.LOT or one.lot.pk not in said]


def put_right_since(batch: Batch, sent: Mapping[Lot, Amount]) -> dict[Lot, Amount]:
    """What each lot sent, with what an assay carried on to the batch since makes of its fine metal. One query where
    there was none, five more else."""
    carried = standing_notes().filter(carried_on__holder=batch.holder_id)
    notes: Any = list(carried)
    if not notes:
        return dict(sent)
    said, portions = read_said(), read_mixed()
    fines = {lot.pk: Fraction(amount.fine_ug) for lot, amount in sent.items()}
    for note in notes:
        before = {lot: [one for one in of if one.turn < note.turn] for lot, of in said.items()}
        middle = Fraction(note.low_ppm + note.high_ppm, 2)
        for lot, change in spread_within(portions, batch.holder_id, note.lot_id, middle, before).items():
            fines[lot] += change
    return {lot: replace(one, fine_ug=max(round_half_up(fines[lot.pk]), 0)) for lot, one in sent.items()}


def said_of(lots: Iterable[Lot], since: int) -> dict[int, FinenessNote]:
    """What was said last of lots after a turn of the book. One query."""
    notes: Any = standing_notes().filter(lot__in=[lot.pk for lot in lots])
    return {note.lot_id: note for note in notes if note.turn > since}


def assays_carried_on_to(cast: Cast) -> QuerySet[Entry]:
    """Standing entries by which the fineness of metal in a cast was put right."""
    return Entry.objects.filter(stands(), fineness_notes__carried_on__holder=cast.crucible_holder_id)


def put_right_since_cast(casts: Iterable[Cast]) -> list[int]:
    """The numbers of those of some casts to whose metal an assay was carried on. One query."""
    carried = CarriedOn.objects.filter(stands("note__entry__"), holder__cast__in=[cast.pk for cast in casts])
    return sorted(carried.values_list("holder__cast__number", flat=True).distinct())


def pieces_gone(casts: QuerySet[Cast]) -> int:
    """How many pieces of these casts have left for good."""
    gone = (Piece.State.SOLD, Piece.State.HANDED)
    return Piece.objects.filter(cast__in=casts, void=False, state__in=gone).count()


def last_assay(lot: Lot) -> list[FinenessNote]:
    """The assay by which its fineness is known, if it is by one."""
    if lot.fineness_by != Lot.FinenessBy.ASSAYED:
        return []
    return list(standing_notes().filter(lot=lot).select_related("entry").reverse()[:1])
