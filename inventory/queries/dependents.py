"""Reads of what stands on an entry: every later one that had to do with the same lots, crucibles and pieces."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Set
from dataclasses import dataclass

from django.db.models import Q

from inventory.core.ledger import Amount
from inventory.models import BillLine, CarriedOn, Cast, Entry, FinenessNote, Holder, Material, Movement
from studio.kit.printing import print_money

from .cast_metal import LOST, metal_of_casts
from .ledger import STANDING, TURN, holder_unit, name_holder, stands
from .plain import rows_by_key

#: What is lost in these may be found later, and comes out of no holder of its own then.
_LOSING = (Entry.Kind.CLOSE, Entry.Kind.FINISH, Entry.Kind.FOUND, Entry.Kind.CLEANED)


def entries_on(changed: Mapping[int, Set[int]]) -> list[Entry]:
    """Standing entries, in turn, that some standing ones and what they will draw on have to do with, those included.

    `changed` holds the key of an entry -> holders that it will touch besides those that it does. A movement at a
    holder changes what is drawn there ever after, so every later entry at the same holder belongs, and what that one
    touches, and so on. Five queries.
    """
    first = min(Entry.objects.filter(pk__in=changed).annotate(place=TURN).values_list("place", flat=True))
    # Whatever has a later turn was written later still.
    entries: Iterable[Entry] = (
        Entry.objects.filter(stands(), pk__gte=first)
        .annotate(place=TURN)
        .filter(place__gte=first)
        .select_related("cast", "piece__cast", "bill_for")
        .order_by("place", "pk")
    )
    return _sweep(list(entries), _ends_since(first), changed)


def _sweep(
    entries: list[Entry], ends: Mapping[int, Set[int]], changed: Mapping[int, Set[int]]
) -> list[Entry]:
    """Later entries never change earlier ones, so one pass in turn finds them all."""
    holders: set[int] = set()
    found_in = {entry.cast_id for entry in entries if entry.kind == Entry.Kind.FOUND}
    found: list[Entry] = []
    for entry in entries:
        touched = ends.get(entry.pk, set()) | _besides(entry, found_in)
        if entry.pk in changed or touched & holders:
            found.append(entry)
            holders |= touched | changed.get(entry.pk, set())
    return found


def _besides(entry: Entry, found_in: Set[int | None]) -> set[int]:
    """What an entry has to do with besides the holders of its lines: the piece that it is for, and, where metal of
    its cast was found, what that cast has lost, which stands here for a holder with the cast's key below zero."""
    holders = {entry.piece.holder_id} if entry.piece is not None else set()
    if entry.cast_id in found_in and entry.kind in _LOSING:
        holders.add(-(entry.cast_id or 0))
    return holders


def _ends_since(first: int) -> dict[int, set[int]]:
    """The holders that each entry written since touches; of a bill those of all lots that it is for."""
    ends: dict[int, set[int]] = {}
    for entry, holder in _touches(first):
        ends.setdefault(entry, set()).add(holder)
    return ends


def _touches(first: int) -> Iterator[tuple[int, int]]:
    rows = Movement.objects.filter(STANDING, entry__gte=first)
    for side in ("source", "target"):
        inside = rows.exclude(**{f"{side}__kind": Holder.Kind.OUTSIDE})
        yield from inside.values_list("entry", side)
    yield from BillLine.objects.filter(entry__gte=first).values_list("entry", "lot__holder")
    # What fineness was put right of, and all that it was carried on to, though nothing of it was here then.
    notes = FinenessNote.objects.filter(stands("entry__"), entry__kind=Entry.Kind.ASSAY, entry__gte=first)
    yield from notes.values_list("entry", "lot__holder")
    carried = CarriedOn.objects.filter(note__in=notes)
    for path in ("holder", "holder__cast__lots_recovered__holder", "holder__cast__pieces__holder"):
        yield from carried.filter(**{f"{path}__isnull": False}).values_list("note__entry", path)


@dataclass(frozen=True)
class Shown:
    """Something that a mend may change: a lot, a crucible or a piece, or what a cast has lost."""

    name: str
    unit: str
    amount: Amount


@dataclass(frozen=True)
class Changed:
    name: str
    unit: str
    before: Amount
    after: Amount

    @property
    def is_seen(self) -> bool:
        """Whether more than the last decimals of a cost differ."""
        costs = {print_money(amount.cost_micro) for amount in (self.before, self.after)}
        return self.before.quantity != self.after.quantity or len(costs) > 1


def standing_of(entries: Collection[Entry]) -> dict[str, Shown]:
    """What some entries touched, as it stands: what lots hold, what pieces hold or left with, what casts lost."""
    lines = Movement.objects.filter(entry__in=entries)
    keys = set(lines.values_list("source", flat=True)) | set(lines.values_list("target", flat=True))
    names = ("lot__material", "lot__from_cast", "cast", "piece__cast", "batch")
    shown: dict[str, Shown] = {}
    gone = _gone_with(keys)
    for _, holder in sorted(rows_by_key(Holder, keys, names).items()):
        if holder.kind == Holder.Kind.OUTSIDE:
            continue
        here = Amount(holder.quantity, holder.fine_ug, holder.cost_micro)
        amount = gone.get(holder.pk, here) if here.is_nothing else here
        name = name_holder(holder)
        if holder.kind == Holder.Kind.PIECE:
            name += f" of cast {holder.piece.cast.number}"
        shown[f"holder {holder.pk}"] = Shown(name[:1].upper() + name[1:], holder_unit(holder), amount)
    missing = _missing_at_counts(entries)
    if not missing.is_nothing:
        shown["counted"] = Shown("Missing at stock counts", "mass", missing)
    casts = {entry.cast_id for entry in entries if entry.cast_id}
    metal = metal_of_casts(Q(entry__cast__in=casts))
    for pk, number in Cast.objects.filter(pk__in=casts).order_by("pk").values_list("pk", "number"):
        shown[f"lost in {pk}"] = Shown(f"Lost in cast {number}", "mass", metal[pk].now[LOST])
    return shown


def _gone_with(holders: Collection[int]) -> dict[int, Amount]:
    """What left for good with each piece that is not here any more."""
    rows = Movement.objects.filter(STANDING, source__in=holders, entry__kind=Entry.Kind.SALE)
    columns = ("source", "quantity", "fine_ug", "cost_micro")
    return {holder: Amount(*numbers) for holder, *numbers in rows.values_list(*columns)}


def _missing_at_counts(entries: Collection[Entry]) -> Amount:
    """What standing counts of metal among these found to be missing, less what they found too much."""
    net = Amount()
    for sign, side, lot in ((1, "target", "source"), (-1, "source", "target")):
        metal = {f"{side}__place": Holder.Place.COUNTED, f"{lot}__lot__material__kind": Material.Kind.METAL}
        rows = Movement.objects.filter(STANDING, entry__in=entries, **metal)
        for numbers in rows.values_list("quantity", "fine_ug", "cost_micro"):
            net = net + Amount(*(sign * number for number in numbers))
    return net


def compare(before: Mapping[str, Shown], after: Mapping[str, Shown]) -> list[Changed]:
    """What differs, in the order in which it came to be."""
    nothing = Amount()
    changed = []
    for key in {**before, **after}:
        one = after.get(key) or before[key]
        was = before[key].amount if key in before else nothing
        now = after[key].amount if key in after else nothing
        if was != now:
            changed.append(Changed(one.name, one.unit, was, now))
    return changed
