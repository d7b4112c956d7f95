"""Amounts of the studio's currency, and prices for a mass: the measures that are read in a way of their own."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

from studio.kit.measuring import MEASURES, Measure
from studio.kit.numerals import Unreadable, print_decimal, read_number, refuse_below_zero, tidy
from studio.kit.units import MICRO_PER_UNIT, OUNCES

_CODE = r"[£$€]|[a-z]{3}"
_MONEY = re.compile(rf"({_CODE})? ?([0-9.,'/ ]+?) ?({_CODE})?")
_PRICE = re.compile(r"(.+?) ?(?:/|\bper\b) ?([a-z. ]+)")

_money_decimals = ContextVar("money_decimals", default=2)


@contextmanager
def showing_money(decimals: int) -> Iterator[None]:
    """Within this, money is printed with so many decimals wherever a place does not name its own."""
    token = _money_decimals.set(decimals)
    try:
        yield
    finally:
        _money_decimals.reset(token)


class Money(Measure):
    """Millionths of the currency, digits only: the page names the currency once."""

    def print(self, value: int | None, decimals: int | None = None) -> str:
        """The amount with the decimals that the studio chose, two where nothing is set."""
        shown = _money_decimals.get() if decimals is None else decimals
        return super().print(value, shown) if value is None else self._write(value, shown, shown)

    @property
    def column_decimals(self) -> int:
        return _money_decimals.get()

    def tell(self, value: int | None) -> str:
        """The amount with every decimal it has, two at least: "12.50", "0.847285"."""
        return super().print(value) if value is None else self._write(value, self.digits, self.least)

    def retype(self, value: int) -> str:
        return self.tell(value).replace(",", "")

    def read(self, text: str, *, minimum: int | None = None, maximum: int | None = None) -> int:
        """A sign or three-letter code in front or behind is passed over. Raises Unreadable."""
        return self.read_amount(tidy(text), self.example, minimum, maximum)

    def read_amount(self, plain: str, example: str, minimum: int | None, maximum: int | None) -> int:
        """The same of tidied text, with an `example` of what should have been written."""
        refuse_below_zero(plain)
        match = _MONEY.fullmatch(plain)
        amount = read_number(match[2]) if match else None
        if match is None or amount is None or any(_is_unit(code) for code in (match[1], match[3]) if code):
            raise Unreadable(f"This cannot be read. Write {example}.")
        exact = amount * MICRO_PER_UNIT
        if exact.denominator != 1:
            raise Unreadable(f"Write at most {self.digits} decimals.")
        return self.check_bounds(int(exact), minimum, maximum)

    @staticmethod
    def _write(value: int, most: int, least: int) -> str:
        return print_decimal(value, 6, most=most, least=least)


def _is_unit(word: str) -> bool:
    """Whether a word is no currency's code, because some measure knows it."""
    known = (word in measure.factors or word in measure.questions for measure in MEASURES.values())
    return word == "per" or any(known)


PRICE_UNITS = ("g", "kg", "ozt", "dwt", "lb")


@dataclass(frozen=True)
class Price:
    """A price for a mass: (millionths of the currency, one of PRICE_UNITS); a bare number is per `unit`."""

    unit: str
    money: Money
    masses: Measure
    inputmode: str = "text"

    @property
    def asked(self) -> str:
        # The unit that a bare price is for is part of the example, or the line below the field would name another.
        return f"a price such as 30.50 per {self.unit}"

    def tell(self, price: tuple[int, str]) -> str:
        return f"{self.money.tell(price[0])} per {price[1]}"

    def retype(self, price: tuple[int, str]) -> str:
        return f"{self.money.retype(price[0])} per {price[1]}"

    def read(self, text: str, *, minimum: int | None = None, maximum: int | None = None) -> tuple[int, str]:
        """Raises Unreadable, as a measure does."""
        example = "a price such as 0.98 per g or 30.50 per ozt"
        amount, unit = tidy(text), self.unit
        if price := _PRICE.fullmatch(amount):
            amount, word = price[1], price[2].replace(".", "").strip()
            if word in OUNCES:
                raise Unreadable(
                    "Ounces troy or ounces avoirdupois? Write per ozt, or give the price per lb."
                )
            masses = self.masses.factors
            named = [each for each in PRICE_UNITS if masses.get(word) == masses[each]]
            if not named:
                raise Unreadable(f"This cannot be read. Write {example}.")
            unit = named[0]
        return self.money.read_amount(amount, example, minimum, maximum), unit
