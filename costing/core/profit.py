"""What sales leave after the cost of what was sold, piece by piece and added up by whatever is asked.

Money is millionths of the currency, time is seconds.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from studio.kit.units import round_half_up

SECONDS_PER_HOUR = 3_600


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """A piece that was sold, or money paid back (`pieces` -1 where it came back, 0 where not), below zero.

    `book_micro` is the cost that the ledger moved, `other_micro` the rest of what the piece cost by the cast's rules.
    """

    pieces: int
    paid_micro: int
    tax_micro: int
    fees_micro: int
    book_micro: int = 0
    other_micro: int = 0
    bench_seconds: int = 0
    flasks: Fraction = Fraction(0)

    @property
    def left_micro(self) -> int:
        """Sales less tax and fees."""
        return self.paid_micro - self.tax_micro - self.fees_micro

    @property
    def over_book_micro(self) -> int:
        """Sales less tax and fees less the cost that the ledger has."""
        return self.left_micro - self.book_micro

    @property
    def profit_micro(self) -> int:
        return self.over_book_micro - self.other_micro

    @property
    def per_hour_micro(self) -> int | None:
        return _divide(self.profit_micro, Fraction(self.bench_seconds, SECONDS_PER_HOUR))

    @property
    def per_flask_micro(self) -> int | None:
        return _divide(self.profit_micro, self.flasks)


def _divide(amount_micro: int, by: Fraction) -> int | None:
    return round_half_up(amount_micro / by) if by > 0 else None


def add_up(deeds: Iterable[Deed]) -> Deed:
    """The deeds together."""
    rows = list(deeds)
    return Deed(
        pieces=sum(row.pieces for row in rows),
        paid_micro=sum(row.paid_micro for row in rows),
        tax_micro=sum(row.tax_micro for row in rows),
        fees_micro=sum(row.fees_micro for row in rows),
        book_micro=sum(row.book_micro for row in rows),
        other_micro=sum(row.other_micro for row in rows),
        bench_seconds=sum(row.bench_seconds for row in rows),
        flasks=sum((row.flasks for row in rows), Fraction(0)),
    )
