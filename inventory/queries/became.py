"""What became of the metal of a lot: each gram of it is in pieces, in lots, at a refiner, handed back or lost.

What a movement takes of the lot is its share in what it takes from: a lot, or all that came out of one crucible. So
whatever is found at a count, and whatever the scale shows too much, is of the make of what it was found in.
"""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from django.db.models import Q, Sum

from inventory.core.trace import WHOLE, of_tin, round_became
from inventory.models import Batch, Entry, Holder, Lot, Movement
from studio.kit.rounding import allocate_largest_remainder

from .ledger import STANDING

Kind, Place = Entry.Kind, Holder.Place
STILL, PIECES, SOLD, LOTS, ASIDE, MELTING = "still", "pieces", "sold", "lots", "aside", "melting"
AT_REFINER, SETTLED, BACK, SCRAPPED, MISSING, LOST = (
    "refiner",
    "settled",
    "back",
    "scrapped",
    "missing",
    "lost",
)

BECAME: dict[str, str] = {
    STILL: "Still in this lot",
    PIECES: "In pieces that are here",
    SOLD: "Gone in pieces that were sold or handed over",
    LOTS: "In other lots and tins",
    ASIDE: "Set aside: filings, spill, sweeps and failed castings",
    MELTING: "In the crucible of an open cast",
    AT_REFINER: "At a refiner's",
    SETTLED: "Settled or lost at a refiner's",
    BACK: "Handed back to a customer",
    SCRAPPED: "Thrown away",
    MISSING: "Missing at counts, less what was found",
    LOST: "Lost in the work, less what was found later",
}
"""What the metal of a lot may have become, in the order in which it is told."""

_PLACES = {Place.CUSTOMER: SOLD, Place.SCRAPPED: SCRAPPED, Place.COUNTED: MISSING, Place.LOST: LOST}
_ASIDE = (Lot.Origin.FILINGS, Lot.Origin.SPILL, Lot.Origin.SWEEPS, Lot.Origin.FAILED)
_HERE = (Holder.Kind.LOT, Holder.Kind.PIECE, Holder.Kind.CRUCIBLE)


@dataclass
class Became:
    """Milligrams of a lot, all that ever came into it, by the keys of BECAME; `lots` are the others that hold some."""

    total_mg: int
    rows: dict[str, int]
    lots: dict[int, int]


@dataclass
class _Follow:
    """Adds up parts of WHOLE of a milligram, from a lot and the shares that mixes have of it."""

    lot: Lot
    shares: Mapping[int, int]
    parts: Counter[str] = field(default_factory=Counter)
    in_lots: dict[str, Counter[int]] = field(default_factory=lambda: {LOTS: Counter(), ASIDE: Counter()})

    def share(self, lot: int | None, cast: int | None) -> int:
        """That of a lot and the cast that it came out of, or of all else of a cast."""
        if lot is None:
            return self.shares.get(cast or 0, 0)
        if lot == self.lot.pk:
            return WHOLE
        return self.shares.get(of_tin(lot), self.shares.get(cast or 0, 0))


def what_became_of(lot: Lot, shares: Mapping[int, int]) -> Became:
    """`shares` are what each mix has of it. Six queries, whatever is in the book."""
    follow = _Follow(lot, shares)
    _add_what_is_here(follow)
    _add_batches(follow)
    own_mg = 0
    for place, at, from_cast, cast, quantity in _outside_lines("target", "source"):
        row = BACK if at is not None and place == Place.CUSTOMER else _PLACES[Place(place)]
        follow.parts[row] += quantity * follow.share(at, cast if at is None else from_cast)
    for place, at, from_cast, cast, quantity in _outside_lines("source", "target"):
        if at == lot.pk and place != Place.COUNTED:
            own_mg += quantity
        else:
            follow.parts[_PLACES[Place(place)]] -= quantity * follow.share(
                at, cast if at is None else from_cast
            )
    total_mg = own_mg + _came_from_elsewhere(lot)
    rows = round_became(follow.parts, total_mg)
    lots: dict[int, int] = {}
    for row, parts in follow.in_lots.items():
        lots |= zip(parts, allocate_largest_remainder(rows.get(row, 0), list(parts.values())), strict=True)
    told = {row: rows[row] for row in BECAME if rows.get(row)}
    return Became(total_mg, told, {pk: mass_mg for pk, mass_mg in lots.items() if mass_mg})


def _add_what_is_here(follow: _Follow) -> None:
    columns = ("kind", "lot", "lot__from_cast", "lot__origin", "piece__cast", "cast", "quantity")
    here = Holder.objects.filter(kind__in=_HERE, quantity__gt=0).values_list(*columns)
    for kind, lot, from_cast, origin, of_piece, melting, quantity in here:
        part = quantity * follow.share(lot, from_cast or of_piece or melting)
        if not part:
            continue
        row = PIECES if kind == Holder.Kind.PIECE else MELTING
        if lot is not None:
            row = STILL if lot == follow.lot.pk else ASIDE if origin in _ASIDE else LOTS
        follow.parts[row] += part
        if row in follow.in_lots:
            follow.in_lots[row][lot] += part


def _add_batches(follow: _Follow) -> None:
    """Of what was sent and did not come back as it went, a batch still has as much as it has of the whole."""
    held = dict(Batch.objects.filter(void=False).values_list("holder", "holder__quantity"))
    went: Counter[int] = Counter()
    parts: Counter[int] = Counter()
    for kind, batch, lot, sign in (
        (Kind.SEND, "target", "source", 1),
        (Kind.SENT_BACK, "source", "target", -1),
    ):
        lines = Movement.objects.filter(STANDING, entry__kind=kind, **{f"{batch}__in": list(held)})
        columns = (batch, f"{lot}__lot", f"{lot}__lot__from_cast", "quantity")
        for at, pk, from_cast, quantity in lines.exclude(**{f"{lot}__lot": None}).values_list(*columns):
            went[at] += sign * quantity
            parts[at] += sign * quantity * follow.share(pk, from_cast)
    for at, part in parts.items():
        there = part * held[at] // went[at] if went[at] else 0
        follow.parts[AT_REFINER] += there
        follow.parts[SETTLED] += part - there


def _outside_lines(end: str, other: str) -> Iterator[tuple[str, int | None, int | None, int | None, int]]:
    """What went to the places outside where a lot's metal may end, or came from them, by what it was or became.

    Place, lot, the cast that the lot came out of, the cast of the entry, milligrams."""
    places = dict(Holder.objects.filter(place__in=list(_PLACES)).values_list("pk", "place"))
    for pk, place in places.items():
        rows = (
            Movement.objects.filter(STANDING, Q(**{end: pk}), quantity__gt=0)
            .order_by()
            .values_list(f"{other}__lot", f"{other}__lot__from_cast", "entry__cast")
            .annotate(Sum("quantity"))
        )
        for row in rows:
            yield (place, *row)


def _came_from_elsewhere(lot: Lot) -> int:
    """What came into a lot from a supplier, a crucible, a piece, other lots: all but from those places and from a batch
    that it was sent in."""
    came = Movement.objects.filter(STANDING, target=lot.holder_id).exclude(source__place__in=list(_PLACES))
    of_batch = Q(source__kind=Holder.Kind.BATCH, entry__kind=Kind.SENT_BACK)
    total: int = came.exclude(of_batch).aggregate(total=Sum("quantity", default=0))["total"]
    return total
