"""Reads for tracing metal and powder: what was melted or lay together, and what the lots and pieces found are."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import F, Q, QuerySet

from inventory.core.trace import WHOLE, Mixes, Portion, of_tin, trace_back, trace_on
from inventory.models import Cast, Entry, Holder, Lot, Movement, Piece

from .cast_metal import CHARGE, INTO, POWDER
from .ledger import STANDING, TURN_OF_ITS_ENTRY
from .tins import Ingredient, TinNow, share_contents

#: Lots that became other lots, without a melt. Of what was passed to a customer the line of its cost goes elsewhere.
_TIN = Q(
    entry__kind__in=(Entry.Kind.TOGETHER, Entry.Kind.APART, Entry.Kind.TOP_UP), target__kind=Holder.Kind.LOT
)


def read_mixes(*of: Q) -> Mixes:
    """Every standing charge, and all that was put together or taken apart, each after what its metal was in before.

    In the order of their last portions: what goes into a crucible was weighed out of another one before. A query for
    each of `of`, which together take half as long as one that asks for either.
    """
    rows = sorted(row for one in of or (INTO[CHARGE], _TIN) for row in _portions(one))
    mixes: dict[int, list[Portion]] = {}
    for _, _, _, cast, made, lot, mass_mg, from_cast in rows:
        mix = cast or of_tin(made)
        # Taken out and put in again, a cast stands where its last portion does.
        portions = mixes.pop(mix, [])
        portions.append(Portion(lot, mass_mg, from_cast or of_tin(lot)))
        mixes[mix] = portions
    return mixes


def _portions(of: Q) -> QuerySet[Movement, Any]:
    """Lines by their turn; no two have the first three alike."""
    columns = ("turn", "entry_id", "line", "mix", "made", "source__lot", "quantity", "source__lot__from_cast")
    rows = Movement.objects.filter(STANDING, of).annotate(turn=TURN_OF_ITS_ENTRY, mix=F("entry__cast"))
    return rows.annotate(made=F("target__lot")).order_by().values_list(*columns)


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
    lots = _lots(shares)
    sources = [Source(lots[lot], share) for lot, share in shares.items()]
    sources.sort(key=lambda source: (-source.share, source.lot.pk))
    poured = Movement.objects.filter(STANDING, INTO[POWDER], entry__cast=cast)
    lines = poured.select_related("source__lot__material", "source__lot__supplier").order_by("entry", "line")
    return Origins(cast, sources, melts, [(line.source.lot, line.quantity) for line in lines])


def _lots(shares: Mapping[int, int]) -> dict[int, Lot]:
    return Lot.objects.select_related("material", "supplier", "owner", "from_cast").in_bulk(list(shares))


@dataclass(frozen=True)
class Holding:
    """A piece that has metal of a lot in it: milligrams of it, in all that the piece weighed as it was cast."""

    piece: Piece
    of_lot_mg: int


def pieces_with(lot: Lot) -> list[Holding]:
    """Every piece with metal or powder of a lot in it or around it, newest cast first. Three queries."""
    if lot.material.unit == "mass" and lot.material.alloy_id is None:
        casts = Movement.objects.filter(STANDING, INTO[POWDER], source=lot.holder_id).values("entry__cast")
        pieces = Piece.objects.filter(void=False, cast__in=casts)
        return [
            Holding(piece, 0) for piece in pieces.select_related("cast").order_by("-cast__number", "number")
        ]
    shares = trace_on(lot.pk, read_mixes())
    pieces = Piece.objects.filter(void=False, cast__in=list(shares)).select_related("cast")
    return [
        Holding(piece, piece.as_cast_mg * shares[piece.cast_id] // WHOLE)
        for piece in pieces.order_by("-cast__number", "number")
    ]
