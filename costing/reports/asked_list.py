"""The pieces that are here to sell: what is asked, what the rules say now, and which fall under their floor."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from costing.core.channel import solve_price
from costing.core.pricing import Floor
from costing.queries.asked import newest_asked, pieces_to_sell
from costing.queries.costed import cost_casts
from costing.queries.policy import all_policies
from costing.queries.pricing import read_price_book
from inventory.models import Piece

from .piece_price import PiecePrices


@dataclass(frozen=True)
class AskRow:
    """One piece with its prices."""

    piece: Piece
    prices: PiecePrices

    @cached_property
    def floor(self) -> Floor | None:
        """Without the price of metal at which it is reached, which takes longer."""
        return self.prices.find_floor(seeks_metal=False)

    @property
    def is_under(self) -> bool:
        return self.floor is not None and self.floor.is_under

    @property
    def asked_micro(self) -> int | None:
        return self.prices.asked.price_micro if self.prices.asked else None

    @property
    def cost_micro(self) -> int:
        return self.prices.parts.cost_today_micro

    @cached_property
    def suggested_micro(self) -> int | None:
        """What the rules say now, and never less than the floor; None where they say nothing."""
        usual = self.prices.usual
        if usual.kept is None:
            return None
        floor, rule = self.floor, usual.way.rule
        if floor is None or floor.wanted.problem or usual.kept.left_micro >= floor.wanted.micro:
            return usual.kept.told_micro
        least = solve_price(floor.wanted.micro, usual.way.fees, rule.step_micro).kept
        return least.told_micro if least else None


def read_rows(pieces: Sequence[Piece]) -> list[AskRow]:
    """These pieces with their prices, in their order. The number of queries does not depend on how many there are."""
    policies = all_policies()
    book = read_price_book({piece.cast.alloy for piece in pieces}, policies=policies)
    asked = newest_asked([piece.pk for piece in pieces])
    costed = cost_casts({piece.cast_id for piece in pieces}, policies)
    rows = []
    for piece in pieces:
        cast = costed.get(piece.cast_id)
        if cast is not None:
            place = cast.place_of(piece.pk)
            rows.append(AskRow(piece, PiecePrices(cast, place, book, asked.get(piece.pk))))
    return rows


def rows_under() -> list[AskRow]:
    """All pieces here whose asked price is under their floor at today's metal, newest cast first."""
    pieces = list(pieces_to_sell().filter(asked_prices__isnull=False).distinct())
    return [row for row in read_rows(pieces) if row.is_under]


def rows_of(keys: Iterable[int]) -> list[AskRow]:
    """The rows of those pieces among these that are still here."""
    return read_rows(list(pieces_to_sell().filter(pk__in=list(keys))))
