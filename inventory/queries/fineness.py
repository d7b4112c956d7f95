"""Reads of how well fineness is known: what was said of lots, every charge, and what an assay would put right."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django.db.models import F, Q, QuerySet

from inventory.core.fineness import (
    Charged,
    Melt,
    Said,
    compute_middle_ug,
    compute_put_right_ug,
    know_charges,
    spread_assay,
)
from inventory.models import Cast, Entry, FinenessNote, Holder, Lot, Material, Movement

from .cast_metal import CHARGE, INTO
from .ledger import STANDING, TURN_OF_ITS_ENTRY, stands

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
    # "Any", because mypy does not follow what is annotated.
    notes: Any = standing_notes(but)
    rows = notes.values_list("lot", "turn", "fineness_by", "low_ppm", "high_ppm", "goes_on")
    for lot, turn, by, low, high, goes_on in rows:
        one = Said(turn, by == Lot.FinenessBy.GUESS, low, high, goes_on)
        said.setdefault(lot, []).append(one)
    return said


def read_charged(but: Collection[Entry] = ()) -> list[Charged]:
    """Every standing portion, a cast after those whose metal it melted again. Two queries."""
    gone = [entry.pk for entry in but]
    rows = (
        Movement.objects.filter(STANDING, INTO[CHARGE])
        .exclude(entry__in=gone)
        .annotate(turn=TURN_OF_ITS_ENTRY)
        .order_by("turn", "entry_id", "line")
    )
    unproved = set(
        Lot.objects.filter(UNPROVED, material__kind=Material.Kind.METAL).values_list("pk", flat=True)
    )
    charges: dict[int, list[Charged]] = {}
    columns = ("entry__cast", "turn", "source__lot", "quantity", "fine_ug", "source__lot__from_cast")
    metals = ("source__lot__material__alloy__metal", "entry__cast__alloy__metal")
    for cast, turn, lot, mass_mg, fine_ug, made_by, metal, cast_metal in rows.values_list(*columns, *metals):
        counts = metal == cast_metal
        one = Charged(cast, turn, lot, mass_mg, fine_ug if counts else 0, made_by, lot in unproved, counts)
        # Taken out and put in again, a cast stands where its last portion does.
        charges[cast] = [*charges.pop(cast, []), one]
    return [portion for portions in charges.values() for portion in portions]


def read_melts(but: Collection[Entry] = ()) -> dict[int, Melt]:
    """What is known of every charge. Three queries."""
    return know_charges(read_charged(but), read_said(but))


@dataclass(frozen=True)
class PutRight:
    """A holder and the fine metal that it would hold, in micrograms."""

    holder: Holder
    fine_ug: int

    @property
    def change_ug(self) -> int:
        return self.fine_ug - self.holder.fine_ug


@dataclass(frozen=True)
class Spread:
    """What an assay would put right: what is here of the lot and, carried on, of what was made of it; and the casts."""

    changes: list[PutRight]
    casts: list[int]


def spread_of(lot: Lot, low_ppm: int, high_ppm: int, goes_on: bool) -> Spread:
    """Six queries, two where it is not carried on."""
    changes: list[PutRight] = []
    own = lot.holder
    if own.quantity:
        changes.append(PutRight(own, compute_middle_ug(own.quantity, low_ppm, high_ppm)))
    if not goes_on:
        return Spread(changes, [])
    said = read_said()
    more = spread_assay(read_charged(), lot.pk, Fraction(low_ppm + high_ppm, 2), said)
    for cast, holder in _holders_of(more, said):
        changes.append(PutRight(holder, compute_put_right_ug(holder.quantity, holder.fine_ug, more[cast])))
    return Spread(changes, list(more))


def _holders_of(casts: Iterable[int], said: Collection[int]) -> list[tuple[int, Holder]]:
    """What is here of casts, each with its cast: crucibles, pieces, and lots that nobody assayed by themselves."""
    keys = list(casts)
    names = ("lot__material", "lot__from_cast", "cast", "piece__cast")
    here = Holder.objects.filter(quantity__gt=0).select_related(*names)
    found: list[tuple[int, Holder]] = []
    for path in ("cast", "piece__cast", "lot__from_cast"):
        rows = here.filter(**{f"{path}__in": keys}).annotate(of_cast=F(path)).order_by("pk")
        found += [(row.of_cast, row) for row in rows]
    return [(cast, one) for cast, one in found if one.kind != Holder.Kind.LOT or one.lot.pk not in said]


def assays_carried_on_to(cast: Cast) -> QuerySet[Entry]:
    """Standing entries by which the fineness of metal in a cast was put right."""
    return Entry.objects.filter(stands(), fineness_notes__carried_on__cast=cast)
