"""An exact simplex table: the greatest worth of amounts that come to a total and keep a few linear rules.

The dual simplex method with bounds, in whole numbers only: each table is the true one times its own scale, so
that no division leaves a rest (E. H. Bareiss, Math. Comp. 22 (1968), 565-578; from memory). It serves programs with
many amounts and few rules.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import count

_LONG_STEPS = 200


@dataclass(slots=True)
class SimplexTable:
    """`rows` and `prices` are the true numbers times `scale`; the last column is the sums.

    Columns: the amounts, what is left to the total, what each rule has to spare. A column not in `basis` rests at
    its lower or, where `is_high`, at its upper bound; None is no bound.
    """

    rows: list[list[int]]
    prices: list[int]
    scale: int
    basis: list[int]
    lower: list[int]
    upper: list[int | None]
    is_high: list[bool]

    @classmethod
    def begin(
        cls,
        worths: Sequence[int],
        most: Sequence[int],
        rules: Sequence[Sequence[int]],
        total: int,
        must_fill: bool,
    ) -> "SimplexTable":
        """Amounts from 0 to `most`, worth so much a unit; each rule is what a unit adds to a sum of 0 or more.

        It begins with all that is of worth taken: nothing could be worth more, and rules are mended from there.
        """
        width = len(worths) + 1 + len(rules)
        rows = [[1] * len(worths) + [1] + [0] * len(rules) + [total]]
        for place, rule in enumerate(rules, start=len(worths) + 1):
            row = [-pull for pull in rule] + [0] * (len(rules) + 2)
            row[place] = 1
            rows.append(row)
        return cls(
            rows=rows,
            prices=[*worths, *[0] * (len(rules) + 2)],
            scale=1,
            basis=list(range(len(worths), width)),
            lower=[0] * width,
            upper=[*most, 0 if must_fill else None, *[None] * len(rules)],
            is_high=[worth > 0 for worth in worths] + [False] * (1 + len(rules)),
        )

    def copy(self) -> "SimplexTable":
        # Rows are replaced and never changed in place, so that tables may share them.
        return SimplexTable(
            list(self.rows),
            self.prices,
            self.scale,
            list(self.basis),
            list(self.lower),
            list(self.upper),
            list(self.is_high),
        )

    def settle(self) -> bool:
        """Bring every column within its bounds at the greatest worth; False where no amounts can.

        Always the first column that is out of bounds goes, in short steps at last, which keeps the method from
        running in circles (Bland).
        """
        for turn in count():
            values = self.scaled_values()
            out = self._find_out_of_bounds(values)
            if out is None:
                break
            place, short_by = out
            column = self._find_cheapest(place, short_by, turn < _LONG_STEPS)
            if column is None:
                return False
            self.is_high[self.basis[place]] = short_by < 0
            self._pivot(place, column)
        return True

    def scaled_values(self) -> dict[int, int]:
        """Values other than 0 of the columns, times the scale; those in the basis are always there."""
        resting = self._resting()
        values = {column: value * self.scale for column, value in resting}
        for row, column in zip(self.rows, self.basis, strict=True):
            values[column] = row[-1] - sum(row[other] * value for other, value in resting)
        return values

    def _resting(self) -> list[tuple[int, int]]:
        """(column, value) of what rests at a bound other than 0."""
        basic = set(self.basis)
        found = []
        for column, is_high in enumerate(self.is_high):
            value = self.upper[column] if is_high else self.lower[column]
            if value and column not in basic:
                found.append((column, value))
        return found

    def _find_out_of_bounds(self, values: dict[int, int]) -> tuple[int, int] | None:
        """The place in the basis of the first column out of bounds, and by how much it must rise (scaled)."""
        for column, place in sorted((column, place) for place, column in enumerate(self.basis)):
            short_by = self.lower[column] * self.scale - values[column]
            if short_by > 0:
                return place, short_by
            highest = self.upper[column]
            if highest is not None and values[column] > highest * self.scale:
                return place, highest * self.scale - values[column]
        return None

    def _find_cheapest(self, place: int, short_by: int, is_long: bool) -> int | None:
        """The column that can move the one at `place` back to its bound for the least worth.

        In a long step those that are cheaper still, and cannot move it far enough, go to their other bound.
        """
        basic, row, must_rise = set(self.basis), self.rows[place], short_by > 0
        # A column that rests high can only fall, one that rests low can only rise.
        able = [
            column
            for column, pull in enumerate(row[:-1])
            if pull
            and (pull > 0) == (self.is_high[column] == must_rise)
            and self.lower[column] != self.upper[column]
            and column not in basic
        ]
        # The least price for each unit moved goes first: so no price changes its sign, what is at its bound is still
        # best there, and the first table that keeps every bound is the best one (dual simplex: C. E. Lemke, 1954).
        able.sort(key=lambda column: Fraction(abs(self.prices[column]), abs(row[column])))
        if not is_long or not able:
            return able[0] if able else None
        left = abs(short_by)
        for column in able[:-1]:
            highest = self.upper[column]
            if highest is None:
                return column
            left -= abs(row[column]) * (highest - self.lower[column])
            if left <= 0:
                return column
            self.is_high[column] = not self.is_high[column]
        return able[-1]

    def _pivot(self, place: int, column: int) -> None:
        pivot_row, scale = self.rows[place], self.scale
        pivot = pivot_row[column]
        sign = -1 if pivot < 0 else 1

        def clear(row: list[int]) -> list[int]:
            pull = row[column]
            # Every number of a table is a determinant of the first one, so the last pivot divides it without a rest.
            return [
                sign * (here * pivot - pull * there) // scale
                for here, there in zip(row, pivot_row, strict=True)
            ]

        self.prices = clear(self.prices)
        self.rows = [[sign * there for there in row] if row is pivot_row else clear(row) for row in self.rows]
        self.scale = sign * pivot
        self.basis[place] = column
