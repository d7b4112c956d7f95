"""Reads for tracing metal and powder: what was melted or lay together, and what the lots and pieces found are."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, QuerySet

from inventory.core.trace import WHOLE, Mixes, Portion, gather_mixes, of_tin, trace_back, trace_on
from inventory.models import Cast, Entry, Holder, Lot, Material, Movement, Piece

from .cast_metal import CHARGE, INTO, POWDER
from .kept import kept
from .ledger import STANDING, TURN_OF_ITS_ENTRY
from .tins import Ingredient, TinNow, share_contents

_TO_A_LOT = Q(source__kind=Holder.Kind.LOT, target__kind=Holder.Kind.LOT)
_TIN_KINDS = (Entry.Kind.TOGETHER, Entry.Kind.APART, Entry.Kind.TOP_UP)
#: Lots that became other lots, without a melt. Of what was passed to a customer the line of its cost goes elsewhere.
_TIN = Q(
    _TO_A_LOT,
    Q(entry__kind__in=_TIN_KINDS) | Q(entry__kind=Entry.Kind.CLEANED, source__lot__tin__isnull=False),
)
#: All that lots went into and that is of one make: a crucible, or a lot, as failed castings become once they are clean.
MIXED = (INTO[CHARGE], Q(_TO_A_LOT, entry__kind__in=(*_TIN_KINDS, Entry.Kind.CLEANED)))


def mixing_lines(of: Iterable[Q], *columns: str, but: Collection[int] = ()) -> list[tuple[Any, ...]]:
    """The standing lines by which metal went into mixes, in the order of the book: turn, entry, line and the columns.

    A query for each of `of`, which together take half as long as one that asks for either; `but` are entries to leave
    out.
    """
    # No two have the first three alike.
    return sorted(row for one in of for row in _mixing_lines(one, columns) if row[1] not in but)


@kept
def _mixing_lines(one: Q, columns: tuple[str, ...]) -> QuerySet[Movement, Any]:
    lines = Movement.objects.filter(STANDING, one).annotate(turn=TURN_OF_ITS_ENTRY)
    return lines.order_by().values_list("turn", "entry_id", "line", *columns)


def read_mixes(*of: Q) -> Mixes:
    """Every standing charge, and all that was put together, taken apart or cleaned, each after what its metal was in
    before. A query for each of `of`, MIXED where there is none."""
    columns = ("entry__cast", "source__lot", "quantity", "source__lot__from_cast", "target__lot")
    rows = mixing_lines(of or MIXED, *columns)
    of_lots = {row[-1] for row in rows}
    return gather_mixes(
        (
            cast if made is None else of_tin(made),
            Portion(lot, mass_mg, of_tin(lot) if lot in of_lots else from_cast or of_tin(lot)),
        )
        for _, _, _, cast, lot, mass_mg, from_cast, made in rows
    )


def ingredients_of(now: TinNow) -> list[Ingredient]:
    """What a tin was put together from, by lots that were in no tin before. Two queries."""
    mixes = read_mixes(_TIN) if now.lots else {}
    return share_contents(now, {lot.pk: trace_back(of_tin(lot.pk), mixes)[0] for lot in now.lots})


@dataclass(frozen=True)
class Source:
    """A lot that metal first came in as, and its share in parts of WHOLE."""

    lot: Lot
    share: int


@dataclass(frozen=True)
class Origins:
    """Where the metal and the mould of a cast came from; `melts` is the longest way of its metal through crucibles."""

    cast: Cast
    sources: list[Source]
    melts: int
    powder: list[tuple[Lot, int]]


def origins_of(cast: Cast) -> Origins:
    """Four queries, whatever is in the book."""
    shares, melts = trace_back(cast.pk, read_mixes())
    lots = lots_by_key(shares)
    sources = [Source(lots[lot], share) for lot, share in shares.items()]
    sources.sort(key=lambda source: (-source.share, source.lot.pk))
    poured = Movement.objects.filter(STANDING, INTO[POWDER], entry__cast=cast)
    lines = poured.select_related("source__lot__material", "source__lot__supplier").order_by("entry", "line")
    return Origins(cast, sources, melts, [(line.source.lot, line.quantity) for line in lines])


def lots_by_key(keys: Iterable[int]) -> dict[int, Lot]:
    named = Lot.objects.order_by().select_related("material", "supplier", "owner", "from_cast")
    return named.in_bulk(list(keys))


@dataclass(frozen=True)
class Holding:
    """A piece that has metal of a lot in it: milligrams of it, in all that the piece weighed as it was cast."""

    piece: Piece
    of_lot_mg: int


def pieces_with(lot: Lot, shares: Mapping[int, int]) -> list[Holding]:
    """Every piece with metal or powder of a lot in it or around it, newest cast first. One query.

    `shares` are those of `shares_on`, and none for powder.
    """
    casts: Any = [mix for mix in shares if mix > 0]
    if lot.material.kind == Material.Kind.POWDER:
        casts = Movement.objects.filter(STANDING, INTO[POWDER], source=lot.holder_id).values("entry__cast")
    shown = ("name", "number", "state", "as_cast_mg", "cast__number", "cast__day")
    pieces = Piece.objects.filter(void=False, cast__in=casts).select_related("cast").only(*shown)
    return [
        Holding(piece, piece.as_cast_mg * shares.get(piece.cast_id, 0) // WHOLE)
        for piece in pieces.order_by("-cast__number", "number")
    ]


def shares_on(lot: Lot) -> dict[int, int]:
    """Every mix that holds metal of a lot, with its share of WHOLE; none of what is no metal. Two queries."""
    return trace_on(lot.pk, read_mixes()) if lot.material.kind == Material.Kind.METAL else {}
