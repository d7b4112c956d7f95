"""What sales leave after the cost of what was sold, piece by piece and added up by whatever is asked.

Money is millionths of the currency, time is seconds.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from studio.kit.printing import print_money
from studio.kit.units import round_half_up
from studio.kit.working import Given, Step, Working, make_working

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

    def work(self, title: str) -> Working:
        """How the profit came about, and what it is for an hour and for a flask."""
        paid, tax, fees, book, other = (
            _exact(one)
            for one in (self.paid_micro, self.tax_micro, self.fees_micro, self.book_micro, self.other_micro)
        )
        left, over, profit = map(_exact, (self.left_micro, self.over_book_micro, self.profit_micro))
        steps = [
            Step(f"left: {paid} − {tax} − {fees}", left),
            Step(f"over what the book had in it: {left} − {book}", over),
            Step(f"profit: {over} − {other}", profit),
        ]
        if self.per_hour_micro is not None:
            hour = _exact(self.per_hour_micro)
            steps.append(Step(f"for an hour at the bench: {profit} × 3,600 ÷ {self.bench_seconds:,}", hour))
        if self.per_flask_micro is not None:
            shares, of = self.flasks.numerator, self.flasks.denominator
            flask = _exact(self.per_flask_micro)
            steps.append(Step(f"for a flask: {profit} ÷ ({shares:,} ÷ {of:,})", flask))
        return make_working(
            title,
            "what was paid, less tax and fees, less the cost that the book moved, less the rest of what the pieces "
            "cost by the rules of their casts; what came back counts below zero",
            Given("pieces", f"{self.pieces:,}", "the sales"),
            Given("paid", paid, "the sales"),
            Given("tax", tax, "the sales"),
            Given("fees", fees, "the sales"),
            Given("metal and what else the book had in them", book, "the stock"),
            Given("powder, kiln, time, losses and the like", other, "the cost of their casts"),
            Given("seconds at the bench", f"{self.bench_seconds:,}", "bench notes"),
            Given("flasks", _say_flasks(self.flasks), "each piece its share of those kept of its cast"),
            *steps,
            result=print_money(self.profit_micro),
        )


def _exact(amount_micro: int) -> str:
    """To a hundredth of a penny, so that figures under each other have as many decimals."""
    return print_money(amount_micro, 4)


def _say_flasks(flasks: Fraction) -> str:
    return (
        f"{flasks.numerator:,}"
        if flasks.denominator == 1
        else f"{flasks.numerator:,} ÷ {flasks.denominator:,}"
    )


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
