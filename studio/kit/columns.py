"""Columns for the studio's tables. Each prints one way on a page and gives an exact value to CSV and XLSX."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.utils import timezone
from django.utils.safestring import SafeString
from django_tables2.columns.base import BoundColumn
from django_tables2.utils import Accessor

from studio.kit import printing
from studio.kit.strip import render_gram_strip

WIDE: dict[str, Any] = {"cell": {"class": "wide"}}
"""`attrs` that fold a plain column away on a phone."""

_UNIT_WORDS = {"mass": "g", "volume": "ml", "items": "items"}
_UNIT_DIGITS = {"mass": 3, "volume": 3, "items": 0}


def scale(value: int, digits: int, least: int = 0) -> Decimal | int:
    """`value` x 10^-`digits` exactly, without idle zeros beyond `least` decimals."""
    if not digits:
        return value
    number = Decimal(value).scaleb(-digits)
    trimmed = number.normalize()
    places = max(least, -int(trimmed.as_tuple().exponent), 0)
    return number.quantize(Decimal(1).scaleb(-places))


class TextColumn(tables.Column):
    """Words. `wide=True` folds the column away under 600 px; `linkify` makes its cells links."""

    css_class = ""

    def __init__(self, *args: Any, wide: bool = False, **kwargs: Any) -> None:
        classes = " ".join(word for word in (self.css_class, "wide" if wide else "") if word)
        if classes:
            kwargs.setdefault("attrs", {"cell": {"class": classes}})
        super().__init__(*args, **kwargs)


class FigureColumn(TextColumn):
    """Whole numbers of a small unit: right-aligned on a page, taken away as an exact Decimal of the unit.

    `digits` is how many decimals the small unit stands for; `unit_word` ends the heading of the export.
    """

    css_class = "num"
    digits = 0
    least = 0
    unit_word = ""

    def print_figure(self, value: int, record: Any) -> str:
        return printing.print_decimal(value, self.digits, most=self.digits, least=self.least)

    def render(self, value: int, record: Any) -> str:
        return self.print_figure(value, record)

    def value(self, value: int, record: Any) -> Any:
        return scale(value, self.digits, self.least)

    def render_footer(self, bound_column: BoundColumn, table: Any) -> str:
        total = table.totals.get(bound_column.name)
        return "" if total is None else self.print_figure(total, None)


class CountColumn(FigureColumn):
    """A plain number."""


class MassColumn(FigureColumn):
    """Milligrams, shown and taken away in grams."""

    digits, unit_word = 3, "g"

    def print_figure(self, value: int, record: Any) -> str:
        return printing.print_mass(value)


class FineColumn(FigureColumn):
    """Fine metal in micrograms, shown and taken away in grams."""

    digits, unit_word = 6, "g fine"

    def print_figure(self, value: int, record: Any) -> str:
        return printing.print_fine(value)


class MoneyColumn(FigureColumn):
    """Millionths of the studio's currency, shown with its decimals, taken away exactly."""

    digits, least = 6, 2

    def print_figure(self, value: int, record: Any) -> str:
        return printing.print_money(value)


class PercentColumn(FigureColumn):
    """Hundredths of a per cent."""

    digits, unit_word = 2, "%"

    def print_figure(self, value: int, record: Any) -> str:
        return printing.print_percent(value)


class MinutesColumn(FigureColumn):
    """Minutes, shown as hours and minutes."""

    unit_word = "min"

    def print_figure(self, value: int, record: Any) -> str:
        return printing.print_minutes(value)


class EnergyColumn(FigureColumn):
    """Watt-hours, shown and taken away in kilowatt-hours."""

    digits, unit_word = 3, "kWh"

    def print_figure(self, value: int, record: Any) -> str:
        return printing.print_energy(value)


class LengthColumn(FigureColumn):
    """Micrometres, shown and taken away in millimetres."""

    digits, unit_word = 3, "mm"

    def print_figure(self, value: int, record: Any) -> str:
        return printing.print_length(value)


class CelsiusColumn(FigureColumn):
    """Degrees Celsius."""

    unit_word = "°C"

    def print_figure(self, value: int, record: Any) -> str:
        return printing.print_celsius(value)


class MeltsColumn(FigureColumn):
    """Thousandths of a melt."""

    digits, unit_word = 3, "melts"

    def print_figure(self, value: int, record: Any) -> str:
        return printing.print_melts(value)


class QuantityColumn(FigureColumn):
    """A stock quantity in its material's own unit, found on the record by the accessor `unit`.

    The export gets a second column with the unit. Totals make no sense across units and are left out.
    """

    def __init__(self, *args: Any, unit: str = "unit", **kwargs: Any) -> None:
        self.unit = Accessor(unit)
        super().__init__(*args, **kwargs)

    def print_figure(self, value: int, record: Any) -> str:
        return printing.print_quantity(value, self.find_unit(record))

    def value(self, value: int, record: Any) -> Any:
        return scale(value, _UNIT_DIGITS[self.find_unit(record)])

    def render_footer(self, bound_column: BoundColumn, table: Any) -> str:
        return ""

    def find_unit(self, record: Any) -> str:
        return str(self.unit.resolve(record))

    def find_unit_word(self, record: Any) -> str:
        return _UNIT_WORDS[self.find_unit(record)]


class DayColumn(TextColumn):
    """A day with its year; of a moment, the day in the studio's zone."""

    css_class = "day"

    def render(self, value: date) -> str:
        return printing.print_date(self.value(value))

    def value(self, value: date) -> date:
        return timezone.localdate(value) if isinstance(value, datetime) else value


class MomentColumn(TextColumn):
    """A day and clock time in the studio's zone. A spreadsheet knows no zones, so it gets the local clock."""

    css_class = "day"

    def render(self, value: datetime) -> str:
        return printing.print_moment(self.value(value), with_year=True)

    def value(self, value: datetime) -> datetime:
        return timezone.localtime(value).replace(tzinfo=None)


class GramStripColumn(TextColumn):
    """Where a cast's metal went, as a strip; the four accessors find milligrams on the record.

    Nothing is drawn while any of them is None. It is a picture: not sorted, not taken away.
    """

    css_class = "strip-cell"

    def __init__(self, pieces: str, back: str, filings: str, lost: str, **kwargs: Any) -> None:
        self.parts = [Accessor(part) for part in (pieces, back, filings, lost)]
        kwargs.setdefault("verbose_name", "Where the metal went")
        super().__init__(accessor=pieces, orderable=False, exclude_from_export=True, **kwargs)

    def render(self, record: Any) -> SafeString | str:
        masses_mg = [part.resolve(record) for part in self.parts]
        return printing.NOTHING if None in masses_mg else render_gram_strip(*masses_mg)
