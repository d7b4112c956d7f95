"""Where a cast's metal is: the one reading that its page, the list, the loss report and its cost ask.

A standing movement of a cast brings metal into one part of it, takes it out of another, or both. Which, is said here
once, as conditions that the database reads; who asks adds up what is wanted of it.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any, NamedTuple

from django.db.models import BigIntegerField, Case, CharField, Count, F, Q, QuerySet, Sum, Value, When

from inventory.core.casting import Grams
from inventory.core.ledger import Amount
from inventory.models import Cast, Entry, Holder, Lot, Movement

from .ledger import STANDING

Kind, What = Entry.Kind, Movement.What
CHARGE, PIECES, BACK, FILINGS, LOST, POWDER = "charge", "pieces", "back", "filings", "lost", "powder"

#: Casts that were poured and weighed out: what ended without a pour has no charge and no loss.
WEIGHED_OUT = Q(closed_on__isnull=False) & ~Q(outcome=Cast.Outcome.UNPOURED)

_FOUND, _CLEANED = Q(entry__kind=Kind.FOUND, what=What.LOSS), Q(entry__kind=Kind.CLEANED)
_CLEAN = Q(target__lot__origin__in=Lot.IN_PIECES)

#: The part that a movement brings metal into. "back" is what came back clean, "filings" has the spill in it;
#: powder is no metal, and stands here because who asks for the one asks for the other.
INTO: dict[str, Q] = {
    CHARGE: Q(entry__kind=Kind.CHARGE, target__kind=Holder.Kind.CRUCIBLE),
    PIECES: Q(target__kind=Holder.Kind.PIECE) & ~Q(entry__kind=Kind.RETURN),
    BACK: Q(what__in=(What.BACK, What.FAILED))
    | (_FOUND & _CLEAN)
    | (_CLEANED & Q(source__place=Holder.Place.LOST)),
    FILINGS: Q(what__in=(What.SPILL, What.FILINGS)) | (_FOUND & ~_CLEAN),
    LOST: Q(target__place=Holder.Place.LOST),
    POWDER: Q(entry__kind=Kind.POWDER),
}
#: The part that it takes metal out of. A piece that is sold stays a piece of its cast, so
#: one that comes back is none more. What was investment on failed
#: castings was metal that had been lost.
OUT_OF: dict[str, Q] = {
    BACK: _CLEANED & Q(target__place=Holder.Place.LOST),
    PIECES: Q(source__kind=Holder.Kind.PIECE) & ~Q(entry__kind=Kind.SALE),
    LOST: Q(source__place=Holder.Place.LOST),
}


def moves_part(part: str) -> Q:
    """The movements that change a part."""
    return INTO[part] | OUT_OF.get(part, Q())


def sum_part(part: str) -> Sum:
    """Milligrams that movements brought into a part, less what they took out of it."""
    out = [When(OUT_OF[part], then=-F("quantity"))] if part in OUT_OF else []
    signed = Case(When(INTO[part], then=F("quantity")), *out, default=0, output_field=BigIntegerField())
    return Sum(signed)


def follow_metal(*which: Q, **lookups: Any) -> QuerySet[Any]:
    """Movements with the parts of their cast that each brings metal `into` and takes it `out_of`, else ""."""
    return _followed().filter(*which, **lookups)


@cache
def _followed() -> QuerySet[Any]:
    # Two dozen conditions, put together once; a filter makes a query of its own of it.
    return Movement.objects.annotate(into=_name_part(INTO), out_of=_name_part(OUT_OF))


def _name_part(parts: dict[str, Q]) -> Case:
    whens = [When(condition, then=Value(part)) for part, condition in parts.items()]
    return Case(*whens, default=Value(""), output_field=CharField())


class Moved(NamedTuple):
    """What one movement, or `lines` alike added together, did to the parts of a cast."""

    kind: str
    into: str
    out_of: str
    lines: int
    quantity: int
    fine_ug: int
    cost_micro: int
    fresh_mg: int = 0
    spilt_mg: int = 0


@dataclass(frozen=True)
class CastMetal:
    """The metal of one cast by what moved it. Once a cast is closed its parts make the charge."""

    moved: tuple[Moved, ...] = ()

    @cached_property
    def now(self) -> dict[str, Amount]:
        """Each part as it stands: finishing takes from the pieces, metal found later from what was lost."""
        return _add_up(self.moved)

    @cached_property
    def at_close(self) -> dict[str, Amount]:
        """Each part as it was when the weights after the pour were written down."""
        return _add_up(one for one in self.moved if one.kind in (Kind.CHARGE, Kind.CLOSE))

    @property
    def grams(self) -> Grams:
        return _in_grams(self.now)

    @property
    def grams_at_close(self) -> Grams:
        return _in_grams(self.at_close)

    @property
    def fresh_mg(self) -> int:
        """What of the charge had not been through a crucible here."""
        return sum(one.fresh_mg for one in self.moved)

    @property
    def spilt_mg(self) -> int:
        """What of the filings part is spill."""
        return sum(one.spilt_mg for one in self.moved)

    @property
    def weighings(self) -> int:
        """How often the scale was read for the charge, and at the closing for all that is no piece."""
        returned = (BACK, FILINGS)
        return sum(
            one.lines
            for one in self.moved
            if one.into == CHARGE or (one.kind == Kind.CLOSE and one.into in returned)
        )


def metal_of_lines(lines: Iterable[Any]) -> CastMetal:
    """The metal of a cast from its movements, read through `follow_metal` with their entries."""
    return CastMetal(
        tuple(
            Moved(line.entry.kind, line.into, line.out_of, 1, line.quantity, line.fine_ug, line.cost_micro)
            for line in lines
        )
    )


def metal_of_casts(casts: Q) -> dict[int, CastMetal]:
    """The metal of many casts, by cast id; `casts` is a condition on movements. One query."""
    fresh = Sum("quantity", filter=INTO[CHARGE] & Q(source__lot__origin__in=Lot.FRESH), default=0)
    spilt = Sum(
        "quantity", filter=Q(what=What.SPILL) | (_FOUND & Q(target__lot__origin=Lot.Origin.SPILL)), default=0
    )
    rows = (
        follow_metal(STANDING, casts)
        .exclude(into="", out_of="")
        .order_by()
        .values_list("entry__cast", "entry__kind", "into", "out_of")
        .annotate(Count("pk"), Sum("quantity"), Sum("fine_ug"), Sum("cost_micro"), fresh=fresh, spilt=spilt)
    )
    moved: dict[int, list[Moved]] = defaultdict(list)
    for cast, kind, into, out_of, *numbers in rows:
        moved[cast].append(Moved(kind, into, out_of, *map(int, numbers)))
    return defaultdict(CastMetal, {cast: CastMetal(tuple(of)) for cast, of in moved.items()})


def _add_up(moved: Iterable[Moved]) -> dict[str, Amount]:
    parts = dict.fromkeys(INTO, Amount())
    for one in moved:
        amount = Amount(one.quantity, one.fine_ug, one.cost_micro)
        if one.into:
            parts[one.into] += amount
        if one.out_of:
            parts[one.out_of] -= amount
    return parts


def _in_grams(parts: dict[str, Amount]) -> Grams:
    return Grams(*(parts[part].quantity for part in (CHARGE, PIECES, BACK, FILINGS, LOST)))
