"""Columns for the studio's tables. Each prints one way on a page and gives an exact value to CSV and XLSX."""

from collections.abc import Callable
from datetime import date, datetime
from functools import partial
from typing import Any

import django_tables2 as tables
from django.utils import timezone
from django_tables2.columns.base import BoundColumn
from django_tables2.utils import Accessor

from studio.kit import printing
from studio.kit.export import name_figures, name_quantity
from studio.kit.measures import MEASURES, stock_measure
from studio.kit.measuring import Measure


class TextColumn(tables.Column):
    """Words. `wide=True` folds the column away under 600 px; `linkify` makes its cells links."""

    css_class = ""
    #: Whether files get what the column itself makes of a value, whatever words a table's page has for it.
    is_exact = False

    def name_taken(self, label: str, currency: str) -> list[str]:
        """Headings of the columns that files get for this one; money is in `currency`."""
        return [label]

    def count_decimals(self) -> list[int | None]:
        """For each of them, how many decimals a workbook shows; None leaves that to each number."""
        return [None]

    def find_more(self, record: Any) -> list[str]:
        """What files get behind the value: a value for each of the other headings."""
        return []

    def __init__(self, *args: Any, wide: bool = False, **kwargs: Any) -> None:
        classes = " ".join(word for word in (self.css_class, "wide" if wide else "") if word)
        if classes:
            kwargs.setdefault("attrs", {"cell": {"class": classes}})
        super().__init__(*args, **kwargs)


class FigureColumn(TextColumn):
    """Whole numbers of a measure's small unit: right-aligned on a page, taken away as an exact Decimal of its unit.

    `kind` is the measure's name.
    """

    css_class = "num"
    kind = "count"
    is_exact = True

    def __init__(self, *args: Any, kind: str = "", **kwargs: Any) -> None:
        self.kind = kind or self.kind
        super().__init__(*args, **kwargs)

    def find_measure(self, record: Any) -> Measure:
        return MEASURES[self.kind]

    def name_taken(self, label: str, currency: str) -> list[str]:
        return [name_figures(label, self.kind, currency)]

    def count_decimals(self) -> list[int | None]:
        return [MEASURES[self.kind].column_decimals]

    def print_figure(self, value: int, record: Any) -> str:
        return self.find_measure(record).print_in_column(value)

    def render(self, value: int, record: Any) -> str:
        return self.print_figure(value, record)

    def value(self, value: int, record: Any) -> Any:
        return self.find_measure(record).take_away(value)

    def render_footer(self, bound_column: BoundColumn, table: Any) -> str:
        total = table.totals.get(bound_column.name)
        return "" if total is None else self.print_figure(total, None)


class WorkedColumn(FigureColumn):
    """A figure that `figure` works out from a record and its table, None where there is none."""

    def __init__(
        self, verbose_name: str, figure: Callable[[Any, Any], int | None], *args: Any, **kwargs: Any
    ) -> None:
        self.figure = figure
        super().__init__(verbose_name, *args, **kwargs)

    def render(self, value: Any, record: Any, table: Any = None) -> str:
        found = self.figure(record, table)
        return printing.NOTHING if found is None else self.print_figure(found, record)

    def value(self, value: Any, record: Any, table: Any = None) -> Any:
        found = self.figure(record, table)
        return None if found is None else super().value(found, record)


class WordsColumn(TextColumn):
    """What `tell` says of a record; where it says nothing, a page has a dash."""

    is_exact = True

    def __init__(self, verbose_name: str, tell: Callable[[Any], str], **kwargs: Any) -> None:
        self.tell = tell
        super().__init__(verbose_name, accessor="pk", orderable=False, **kwargs)

    def render(self, record: Any) -> str:
        return self.tell(record) or printing.NOTHING

    def value(self, record: Any) -> str:
        return self.tell(record)


CountColumn = FigureColumn
MassColumn = partial(FigureColumn, kind="mass")
FineColumn = partial(FigureColumn, kind="fine")
MoneyColumn = partial(FigureColumn, kind="money")
PercentColumn = partial(FigureColumn, kind="percent")
MinutesColumn = partial(FigureColumn, kind="minutes")


class QuantityColumn(FigureColumn):
    """A stock quantity in its material's own unit, found on the record by the accessor `unit`.

    The export gets a second column with the unit. Totals make no sense across units and are left out.
    """

    def __init__(self, *args: Any, unit: str = "unit", **kwargs: Any) -> None:
        self.unit = Accessor(unit)
        super().__init__(*args, **kwargs)

    def find_measure(self, record: Any) -> Measure:
        return stock_measure(self.find_unit(record))

    def name_taken(self, label: str, currency: str) -> list[str]:
        return name_quantity(label)

    def count_decimals(self) -> list[int | None]:
        return [None, None]

    def find_more(self, record: Any) -> list[str]:
        return [self.find_measure(record).taken_unit]

    def render_footer(self, bound_column: BoundColumn, table: Any) -> str:
        return ""

    def find_unit(self, record: Any) -> str:
        return str(self.unit.resolve(record))


class DayColumn(TextColumn):
    """A day with its year; of a moment, the day in the studio's zone."""

    css_class = "day"
    is_exact = True

    def render(self, value: date) -> str:
        return printing.print_date(self.value(value))

    def value(self, value: date) -> date:
        return timezone.localdate(value) if isinstance(value, datetime) else value


class MomentColumn(TextColumn):
    """A day and clock time in the studio's zone. A spreadsheet knows no zones, so it gets the local clock."""

    css_class = "day"
    is_exact = True

    def render(self, value: datetime) -> str:
        return printing.print_moment(self.value(value), with_year=True)

    def value(self, value: datetime) -> datetime:
        return timezone.localtime(value).replace(microsecond=0, tzinfo=None)
