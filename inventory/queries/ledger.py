"""Reads of the ledger: names of holders, movements of a holder, what came after an entry, the pages of entries."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import BigIntegerField, F, Max, Q, QuerySet
from django.db.models.functions import Coalesce

from inventory.core.ledger import Amount, total_of
from inventory.models import CarriedOn, Cast, Entry, FinenessNote, Holder, Lot, Movement

from .plain import plain_rows


def outside_holder(place: Holder.Place) -> Holder:
    """The one holder of a place of the outside world."""
    # With the kind itself in the statement SQLite takes the index of these few.
    at_place = f"WHERE kind = '{Holder.Kind.OUTSIDE.value}' AND place = %(place)s"
    return plain_rows(Holder, at_place, {"place": place.value})[0]


def signed_changes(holder_ids: Iterable[int]) -> dict[int, list[tuple[date, Amount]]]:
    """Every change of each holder as (day, signed amount), in one query."""
    wanted = set(holder_ids)
    changes: dict[int, list[tuple[date, Amount]]] = {pk: [] for pk in wanted}
    rows = Movement.objects.filter(Q(source__in=wanted) | Q(target__in=wanted)).values_list(
        "source_id", "target_id", "day", "quantity", "fine_ug", "cost_micro"
    )
    for source, target, day, quantity, fine, cost in rows:
        if source in wanted:
            changes[source].append((day, Amount(-quantity, -fine, -cost)))
        if target in wanted:
            changes[target].append((day, Amount(quantity, fine, cost)))
    return changes


def stands(path: str = "") -> Q:
    """The entries that count, neither reversed nor reversals; `path` leads to the entry, "entry__" say.

    A reversal is told by its kind, as a constraint holds it. SQLite would take the unique index of `reverses` for
    a handful of rows even when asked for those without one, and read every entry there is.
    """
    return ~Q(**{f"{path}kind": Entry.Kind.REVERSAL}) & Q(**{f"{path}reversed_by__isnull": True})


#: Movements of the entries that count.
STANDING = stands("entry__")


#: The order in which the entries count: one that was mended keeps the turn of the one that it stands for. Of two with
#: the same turn the one that was written first comes first.
TURN = Coalesce("turn", "id", output_field=BigIntegerField())
#: The same of a movement.
TURN_OF_ITS_ENTRY = Coalesce("entry__turn", "entry_id", output_field=BigIntegerField())


def turn_of(entry: Entry) -> int:
    return entry.pk if entry.turn is None else entry.turn


def latest_day() -> date | None:
    """The latest day that anything in the book stands on."""
    return Entry.objects.order_by("-day", "-id").values_list("day", flat=True).first()


def standing_entries() -> QuerySet[Entry]:
    """Entries that count: neither reversed nor reversals."""
    return Entry.objects.filter(stands())


def last_moved_on(holder: Holder) -> date | None:
    """The latest day of a movement of this holder that counts."""
    rows = Movement.objects.filter(STANDING, Q(source=holder) | Q(target=holder))
    return rows.aggregate(latest=Max("day"))["latest"]


def came_in_with(lot: Lot) -> Amount:
    """What the entry that made a lot put into it."""
    rows = Movement.objects.filter(entry=lot.entry_id, target=lot.holder_id)
    return total_of(Amount(*row) for row in rows.values_list("quantity", "fine_ug", "cost_micro"))


def held_after(holder_id: int, entry: Entry) -> int:
    """What a holder held once an entry was posted, in its small unit, by the order of the book."""
    rows = (
        Movement.objects.filter(STANDING, Q(source=holder_id) | Q(target=holder_id))
        .annotate(place=TURN_OF_ITS_ENTRY)
        .filter(Q(place__lt=turn_of(entry)) | Q(place=turn_of(entry), entry__lte=entry.pk))
    )
    return sum(
        quantity if target == holder_id else -quantity
        for target, quantity in rows.values_list("target_id", "quantity")
    )


def later_users(entry: Entry) -> list[Entry]:
    """Standing entries, newest first, that must be reversed before this one: they built on what it did.

    They drew on what it put somewhere. On a lot that it made, whatever was added would be left in a lot struck out,
    and on a piece that it weighed, whatever came after counts on that weight: so these may not be touched at all.
    Metal found came out of what the cast had lost by then, so what lost it stays while it is found. A bill hangs
    on its delivery, and what was taken for a piece on the piece, wherever their own lines go.
    """
    ends = _ends_of(entry)
    turn = turn_of(entry)
    # Whatever has a later turn was written later still.
    moved = Movement.objects.filter(
        Q(source__in=ends.filled | ends.whole) | Q(target__in=ends.whole), entry_id__gt=turn
    ).values("entry")
    builds = Q(pk__in=moved) | Q(bill_for__entry=entry) | Q(piece__entry=entry) | _assayed_since(entry, ends)
    if ends.lost:
        builds |= Q(kind=Entry.Kind.FOUND, cast=entry.cast_id)
    return list(
        standing_entries()
        .annotate(place=TURN)
        .filter(builds, Q(place__gt=turn) | Q(place=turn, pk__gt=entry.pk), pk__gt=turn)
        .select_related("cast", "piece")
        .order_by("-place", "-pk")
    )


def _assayed_since(entry: Entry, ends: "_Ends") -> Q:
    """Fineness that was put right of what an entry touched, or carried on to that or to its casts; of an assay, what
    was found of its casts since."""
    casts = [pk for pk in (entry.cast_id, entry.piece.cast_id if entry.piece else None) if pk]
    recovered = Lot.objects.filter(holder__in=ends.touched, from_cast__isnull=False)
    mixes = ends.touched | set(recovered.values_list("from_cast__crucible_holder", flat=True))
    mixes |= set(Cast.objects.filter(pk__in=casts).values_list("crucible_holder", flat=True))
    said = FinenessNote.objects.filter(lot__holder__in=ends.touched, entry__kind=Entry.Kind.ASSAY)
    assays = set(said.values_list("entry", flat=True))
    assays |= set(CarriedOn.objects.filter(holder__in=mixes).values_list("note__entry", flat=True))
    builds = Q(pk__in=assays)
    if entry.kind == Entry.Kind.ASSAY:
        carried_on = Entry.objects.filter(pk=entry.pk).values("fineness_notes__carried_on__holder")
        builds |= Q(kind=Entry.Kind.FOUND, cast__crucible_holder__in=carried_on)
    return builds


@dataclass
class _Ends:
    """What later entries may build on: holders that an entry filled, those that must stay as it left them (the
    lots it made and its pieces), and whether it lost something."""

    filled: set[int]
    whole: set[int]
    touched: set[int]
    lost: bool = False


def _ends_of(entry: Entry) -> _Ends:
    ends = _Ends(set(), set(entry.lots_made.values_list("holder", flat=True)), set())
    ends.touched |= set(entry.fineness_notes.values_list("lot__holder", flat=True))
    for line in entry.movements.select_related("source", "target"):
        if line.target.kind != Holder.Kind.OUTSIDE:
            ends.filled.add(line.target_id)
        ends.lost |= line.target.place == Holder.Place.LOST
        ends.whole |= {end.pk for end in (line.source, line.target) if end.kind == Holder.Kind.PIECE}
        ends.touched |= {end.pk for end in (line.source, line.target) if not end.place}
    if entry.kind == Entry.Kind.ASSAY:
        ends.whole |= ends.touched
    return ends


def name_lot(lot: Lot) -> str:
    """ "Lot 12, Sterling grain", or where it came from for reclaim: "Lot 93, button and sprues of cast 40"."""
    if lot.from_cast is not None:
        return f"Lot {lot.pk}, {lot.get_origin_display()} of cast {lot.from_cast.number}"
    if lot.tin_id is not None:
        # The tin's name stands on the lot too, so that nobody who names lots has to read the tins.
        return f"Lot {lot.pk}, {lot.get_origin_display()} in {lot.kept_in or 'a tin'}"
    return f"Lot {lot.pk}, {lot.material}"


def name_holder(holder: Holder) -> str:
    """What a person calls a holder: a lot by `name_lot`, "the crucible of cast 40", "Fern stud"."""
    if holder.kind == Holder.Kind.LOT:
        return name_lot(holder.lot)
    if holder.kind == Holder.Kind.CRUCIBLE:
        return f"the crucible of cast {holder.cast.number}"
    if holder.kind == Holder.Kind.PIECE:
        return holder.piece.name
    if holder.kind == Holder.Kind.BATCH:
        return f"batch {holder.batch.pk} at the refiner"
    return str(holder)


def alloy_of(path: str = "") -> Coalesce:
    """The alloy of what a holder holds, as part of a query; `path` leads to the holder, "target__" say."""
    return Coalesce(
        F(f"{path}lot__material__alloy"),
        F(f"{path}cast__alloy"),
        F(f"{path}piece__cast__alloy"),
        F(f"{path}batch__alloy"),
    )


def owner_of(path: str = "") -> Coalesce:
    """The customer whose it is, None for the studio's own."""
    return Coalesce(
        F(f"{path}lot__owner"),
        F(f"{path}cast__owner"),
        F(f"{path}piece__cast__owner"),
        F(f"{path}batch__owner"),
    )


def holder_unit(holder: Holder) -> str:
    """The unit its quantity is counted in: mass, volume or items."""
    return holder.lot.material.unit if holder.kind == Holder.Kind.LOT else "mass"


def describe_entry(entry: Entry) -> str:
    """ "charge of cast 40, 21 Nov 2026 (line 312 in the book)", for sentences that name entries."""
    words = entry.get_kind_display()
    if entry.piece:
        words += f" of {entry.piece.name}"
    elif entry.cast:
        words += f" of cast {entry.cast.number}"
    elif entry.bill_for_id:
        words += f" for delivery {entry.bill_for_id}"
    return f"{words}, {entry.day:%-d %b %Y} (line {entry.pk} in the book)"


def holder_history(holder: Holder) -> QuerySet[Movement]:
    """All movements in and out of one holder, newest first."""
    return (
        Movement.objects.filter(Q(source=holder) | Q(target=holder))
        .select_related("entry", "entry__cast", "entry__reverses", "source", "target")
        .annotate(is_out=Q(source=F("source")) & Q(source=holder))
        .order_by("-day", "-id")
    )


_ENDS = ("source", "target")
_NAMES = ("lot__material", "lot__from_cast", "cast", "piece__cast", "batch")


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
