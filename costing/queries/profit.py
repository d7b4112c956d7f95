"""What was sold and paid back in a time, with what each piece cost: by the ledger, and by the rules of its cast.

The number of queries does not depend on how many there are.
"""

import re
from collections import Counter
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from costing.core.profit import Deed
from inventory.models import Piece, PlanPart

from .asked import pieces_to_sell
from .costed import CostedCast, cost_casts
from .pricing import seconds_of
from .sales import counted_lines, counted_refunds

_NUMBER_AT_END = re.compile(r"\s+\d+$")


@dataclass(frozen=True)
class Sold:
    """A deed with the piece, the channel and the day that it is told by."""

    piece: Piece
    channel: str
    day: date
    deed: Deed

    @property
    def design(self) -> str:
        """What it is a copy of."""
        return name_design(self.piece)


def name_design(piece: Piece) -> str:
    """The design of a piece; of one that has none as far as its name tells: "Fern stud 3" is a "Fern stud"."""
    return _name(piece.design.name if piece.design is not None else None, piece.name)


def _name(design: str | None, own: str) -> str:
    return design or _NUMBER_AT_END.sub("", own) or own


def count_left() -> Counter[str]:
    """How many of each design are not sold yet, those out with a gallery among them. One query."""
    rows = pieces_to_sell().order_by().values_list("design__name", "name")
    return Counter(_name(design, own) for design, own in rows)


def count_coming() -> Counter[str]:
    """How many of each design are planned or being cast for the studio itself. One query."""
    parts = PlanPart.objects.filter(
        is_piece=True, plan__dropped=False, plan__owner=None, plan__cast__closed_on=None
    )
    found: Counter[str] = Counter()
    for design, label, count in parts.values_list("design__name", "label", "count"):
        found[_name(design, label)] += count
    return found


def count_gone(since: date) -> Counter[str]:
    """How many of each design were sold after a day, less what came back after it. Two queries."""
    named = ("piece__design__name", "piece__name")
    gone = Counter(_name(*row) for row in counted_lines().filter(sold_on__gt=since).values_list(*named))
    back = counted_refunds().filter(returned_on__gt=since)
    gone.subtract(_name(*row) for row in back.values_list("line__piece__design__name", "line__piece__name"))
    return gone


def read_profit(first: date, last: date) -> list[Sold]:
    """Every piece sold, and everything paid back, from a day to another, in the order in which it happened."""
    lines = list(counted_lines().filter(sold_on__range=(first, last)).order_by("sold_on", "pk"))
    refunds = list(counted_refunds().filter(back_on__range=(first, last)).order_by("back_on", "pk"))
    pieces = [line.piece for line in lines] + [refund.line.piece for refund in refunds]
    costed = cost_casts({piece.cast_id for piece in pieces})
    found = [Sold(line.piece, line.sale.channel.name, line.sold_on, _of_line(line, costed)) for line in lines]
    found += [
        Sold(one.line.piece, one.line.sale.channel.name, one.back_on, _of_refund(one, costed))
        for one in refunds
    ]
    return sorted(found, key=lambda sold: sold.day)


def _of_line(line: Any, costed: dict[int, CostedCast]) -> Deed:
    book_micro = line.book_micro or 0
    return Deed(
        pieces=1,
        paid_micro=line.paid_micro,
        tax_micro=line.tax_micro,
        fees_micro=line.fees_micro,
        **_cost_of(line.piece, book_micro, costed, 1),
    )


def _of_refund(refund: Any, costed: dict[int, CostedCast]) -> Deed:
    came_back = refund.returned_on is not None
    cost = _cost_of(refund.line.piece, refund.book_micro or 0, costed, -1) if came_back else {}
    return Deed(
        pieces=-1 if came_back else 0,
        paid_micro=-refund.amount_micro,
        tax_micro=-refund.tax_micro,
        fees_micro=-refund.fees_back_micro,
        **cost,
    )


def _cost_of(piece: Piece, book_micro: int, costed: dict[int, CostedCast], sign: int) -> dict[str, Any]:
    """What the ledger moved, what the piece cost besides, and the time and the flask that were spent on it."""
    cast = costed.get(piece.cast_id)
    if cast is None:
        return {"book_micro": sign * book_micro}
    place = cast.place_of(piece.pk)
    good = len(cast.inputs.good_places)
    return {
        "book_micro": sign * book_micro,
        "other_micro": sign * (cast.cost.piece_totals_micro[place] - book_micro),
        "bench_seconds": sign * sum(seconds_of(cast, place)),
        "flasks": sign * Fraction(1, good) if good else Fraction(0),
    }
