"""What a measure is: how a figure of it is read, told, typed again and taken away. `measures` says each of them."""

from collections.abc import Callable, Mapping
from dataclasses import KW_ONLY, dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import NoReturn

from studio.kit import numerals
from studio.kit.units import round_half_up

Factor = Decimal | Fraction | int

MEASURES: "dict[str, Measure]" = {}
"""Every measure by its name."""


def by_word(factors: Mapping[str, Factor]) -> dict[str, Factor]:
    """Small units in one of each unit, by every word for it: {"g|gram": 1000} gives "g" and "gram"."""
    return {word: factor for words, factor in factors.items() for word in words.split("|")}


@dataclass(frozen=True)
class Measure:
    """A kind of quantity, kept in whole numbers of a small unit, of which 10 ** `digits` make the unit that is shown.

    Making one puts it among MEASURES. Raises ValueError for a name that is taken.

    Printed: the number with at least `least` and at most `most` decimals (all of them, when None), a space and
    `symbol`, or `one` where the number is 1; or whatever `show` makes of it. `in_column` says how many decimals all
    figures of one column have. `export_unit` stands in the heading of a column that is taken away, where it is another
    than `symbol`.
    Typed: `factors` are the small units in one of each unit a person may write, `bare` the unit of a bare number,
    `offsets` what a unit adds, `questions` what is asked about a unit that could be two, `spell` what is done to the
    tidied text before; `sums` allows "3 h 20 min", `whole` refuses parts. `example` ends "Write ...", `asked` is
    a shorter one for an empty field. `typed` is the unit that a stored figure is shown with to be changed, None where
    it is typed as it is printed. `inputmode` chooses a phone's keys.
    """

    name: str
    _: KW_ONLY
    symbol: str = ""
    one: str = ""
    digits: int = 0
    least: int = 0
    most: int | None = None
    show: Callable[[int], str] | None = None
    in_column: Callable[[], int] | None = None
    export_unit: str = ""
    factors: Mapping[str, Factor] = field(default_factory=dict)
    bare: str = ""
    offsets: Mapping[str, Fraction] = field(default_factory=dict)
    questions: Mapping[str, Callable[[Fraction], str]] = field(default_factory=dict)
    spell: Callable[[str], str] | None = None
    sums: bool = False
    whole: bool = False
    minimum: int = 0
    maximum: int = 0
    example: str = ""
    asked: str = ""
    typed: str | None = ""
    inputmode: str = "decimal"

    def __post_init__(self) -> None:
        if self.name in MEASURES:
            raise ValueError(f"there already is a measure named {self.name!r}")
        MEASURES[self.name] = self

    def print(self, value: int | None, decimals: int | None = None) -> str:
        """The figure as pages show it; a dash for None. `decimals` are at most so many, where there is no `show`."""
        if value is None:
            return numerals.NOTHING
        if self.show:
            return self.show(value)
        most = self.most if decimals is None else decimals
        number = numerals.print_decimal(
            value, self.digits, most=self.digits if most is None else most, least=self.least
        )
        return number + self.print_unit(number)

    def print_in_column(self, value: int | None) -> str:
        """The figure among others of its kind: all have the same number of decimals, where the measure has one."""
        decimals = self.column_decimals
        if value is None or decimals is None:
            return self.print(value)
        return numerals.print_decimal(value, self.digits, most=decimals, least=decimals) + self.print_unit("")

    @property
    def column_decimals(self) -> int | None:
        """How many decimals every figure of a column has; None where each has its own."""
        return self.in_column() if self.in_column else None

    @property
    def column_unit(self) -> int:
        """How many small units make one of the last digit that a column shows; 1 where it shows all of them."""
        return 1 if self.column_decimals is None else 10 ** max(self.digits - self.column_decimals, 0)

    def print_unit(self, number: str) -> str:
        """The unit behind a printed number, with its space."""
        unit = self.one if number == "1" and self.one else self.symbol
        return f"{numerals.SPACE}{unit}" if unit else ""

    def tell(self, value: int) -> str:
        """The figure with every decimal that it has, as a field says what it understood."""
        return self.print(value)

    def retype(self, value: int) -> str:
        """Text for a field that reads back to `value`."""
        if self.typed is None:
            return self.print(value).replace(numerals.SPACE, " ").replace(",", "")
        return f"{numerals.print_decimal(value, self.digits, most=self.digits, thousands=False)} {self.typed}".strip()

    def take_away(self, value: int) -> Decimal | int:
        """The exact number of the unit shown, without idle zeros beyond `least` decimals."""
        if not self.digits:
            return value
        number = Decimal(value).scaleb(-self.digits)
        places = max(self.least, -int(number.normalize().as_tuple().exponent), 0)
        return number.quantize(Decimal(1).scaleb(-places))

    @property
    def taken_unit(self) -> str:
        """The unit of what is taken away."""
        return self.export_unit or self.symbol

    def read(self, text: str, *, minimum: int | None = None, maximum: int | None = None) -> int:
        """Typed text as a whole number of the small unit, rounded once, half up; bounds are in it too.

        Raises Unreadable with a sentence that says how to mend it.
        """
        plain = numerals.tidy(text)
        plain = self.spell(plain) if self.spell else plain
        numerals.refuse_below_zero(plain)
        parts = numerals.split_parts(plain)
        if parts is None or (len(parts) > 1 and not self.sums):
            self.refuse()
        exact = self._add_up(parts)
        if self.whole and exact.denominator != 1:
            raise numerals.Unreadable(f"Write {self.example}.")
        return self.check_bounds(round_half_up(exact), minimum, maximum)

    def refuse(self) -> NoReturn:
        raise numerals.Unreadable(f"This cannot be read. Write {self.example}.")

    def check_bounds(self, value: int, minimum: int | None, maximum: int | None) -> int:
        """The value again. Raises Unreadable outside of the bounds, which are the measure's own where None."""
        least = self.minimum if minimum is None else minimum
        most = self.maximum if maximum is None else maximum
        if value > most:
            raise numerals.Unreadable(
                f"The most this field takes is {self.tell(most)}. Check the number and its unit."
            )
        if value < least:
            raise numerals.Unreadable(
                "Write more than 0." if least == 1 else f"Write at least {self.tell(least)}."
            )
        return value

    def _add_up(self, parts: list[tuple[str, str]]) -> Fraction:
        """The exact sum of all parts, which must run from the larger unit to the smaller, each with its unit."""
        total, last = Fraction(0), None
        for number, unit in parts:
            amount = numerals.read_number(number, self.whole)
            if amount is None or (len(parts) > 1 and not unit):
                self.refuse()
            if unit in self.questions and (len(parts) == 1 or unit not in self.factors):
                raise numerals.Unreadable(self.questions[unit](amount))
            factor = self.factors.get(unit or self.bare)
            if factor is None or (last is not None and factor >= last):
                self.refuse()
            total += amount * Fraction(factor) + self.offsets.get(unit, 0)
            last = factor
        return total
