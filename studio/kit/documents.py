"""What a report is made of: blocks of text, tables, charts and workings, the same for page, paper and files.

Raw values are whole numbers of the small unit of their column's measure, text, or days.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from django.utils import timezone

from studio.kit import printing
from studio.kit.chart_pen import Picture
from studio.kit.measures import MEASURES, stock_measure
from studio.kit.rounding import round_column, round_to_unit
from studio.kit.working import Working

Raw = str | int | date | tuple[int, str] | None


_OTHER_KINDS: dict[str, Callable[[Any], str]] = {
    "text": str,
    "number": str,
    "day": lambda day: printing.print_day(day, with_year=True),
    "moment": lambda moment: printing.print_moment(timezone.localtime(moment)),
    "quantity": lambda quantity: stock_measure(quantity[1]).print_in_column(quantity[0]),
    "box": str,
    "blank": str,
}
"""What is no measure. A "number" is a name, as a cast's; a "moment" is aware; a "quantity" is (amount, "mass" or
"volume" or "items"). Where a "box" or a "blank" is None, paper has a box to tick or room to write."""


def show_kind(kind: str, value: Any) -> str:
    """A value of a kind of column as a person reads it. Raises KeyError for another kind."""
    return MEASURES[kind].print_in_column(value) if kind in MEASURES else _OTHER_KINDS[kind](value)


@dataclass(frozen=True, slots=True)
class Column:
    """One column; `unit` adds a word to a count ("casts"). `on_phone` None leaves the choice to the table."""

    key: str
    label: str
    kind: str = "text"
    unit: str = ""
    on_phone: bool | None = None

    def __post_init__(self) -> None:
        if self.kind not in MEASURES and self.kind not in _OTHER_KINDS:
            raise ValueError(f"no such kind of column: {self.kind!r}")

    @property
    def is_number(self) -> bool:
        return self.kind in MEASURES or self.kind == "quantity"


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of raw values under columns; text in a column of numbers is shown as it stands.

    `addresses` are where the first cell of each row leads on a page, if anywhere.

    Raises ValueError when a row or the totals have another length than the columns.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: Sequence[tuple[Raw, ...]]
    totals: tuple[Raw, ...] | None = None
    note: str = ""
    addresses: Sequence[str] = ()

    def __post_init__(self) -> None:
        width = len(self.columns)
        if any(len(row) != width for row in self.rows) or len(self.totals or self.columns) != width:
            raise ValueError(f"every row of {self.caption!r} needs {width} values")


@dataclass(frozen=True, slots=True)
class Filled:
    """A column with what stands in it, from row to row and in the totals; where the first leads, for a page.

    `apart` says that each figure was rounded by itself, for it stands in other tables, too, in other company.
    """

    column: Column
    cells: Sequence[Raw]
    total: Raw = None
    addresses: Sequence[str] = ()
    apart: bool = False


def round_sums(table: Table) -> Table:
    """The table as page and paper show it: what has its sum below it is rounded so that it adds up to it.

    Weights are rounded in every column, as the scale shows them. Files get the exact figures.
    """
    columns: list[Sequence[Raw]] = list(zip(*table.rows, strict=True)) or [()] * len(table.columns)
    totals = list(table.totals or ())
    for place, column in enumerate(table.columns):
        known = [value for value in columns[place] if isinstance(value, int)]
        unit = MEASURES[column.kind].column_unit if column.kind in MEASURES else 1
        is_sum = bool(totals) and totals[place] == sum(known)
        if unit == 1 or not (is_sum or column.kind == "mass"):
            continue
        rounded = round_column(known, unit)
        if is_sum:
            totals[place] = sum(rounded)
        shown = iter(rounded)
        columns[place] = [next(shown) if isinstance(value, int) else value for value in columns[place]]
    rows = list(zip(*columns, strict=True))
    return replace(table, rows=rows, totals=None if table.totals is None else tuple(totals))


def summed(column: Column, amounts: Sequence[int | None]) -> Filled:
    """A column of amounts over their sum, in which what is not known counts for nothing."""
    return Filled(column, amounts, sum(amount or 0 for amount in amounts))


def summed_apart(column: Column, exact: Sequence[int], unit: int) -> Filled:
    """A column of exact amounts, each and their sum rounded by itself to a unit: the same wherever it stands."""
    return Filled(
        column, [round_to_unit(one, unit) for one in exact], round_to_unit(sum(exact), unit), apart=True
    )


BEFORE_ROUNDING = ", before rounding"


def say_rounding(*filled: Filled) -> str:
    """What to know of printed columns that do not add up to the totals printed below them; "" when they do."""
    if all(sum(cell for cell in one.cells if isinstance(cell, int)) == one.total for one in filled):
        return ""
    return "Each figure is rounded by itself, so the last digits need not add up: the total is that of the exact ones."


def fill_table(caption: str, filled: Sequence[Filled], note: str = "") -> Table:
    """The table of some columns; it has totals where the first column has a word for them.

    Where figures that were rounded by themselves do not add up to their total, it says so beside it and below.
    """
    rows = list(zip(*(one.cells for one in filled), strict=True))
    totals = None if filled[0].total is None else tuple(one.total for one in filled)
    if totals and (said := say_rounding(*(one for one in filled if one.apart))):
        totals = (f"{totals[0]}{BEFORE_ROUNDING}", *totals[1:])
        note = f"{note} {said}".strip()
    return Table(caption, tuple(one.column for one in filled), rows, totals, note, filled[0].addresses)


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading between blocks."""

    text: str


@dataclass(frozen=True, slots=True)
class Prose:
    """A paragraph of plain text; a line end in it begins a new line."""

    text: str


@dataclass(frozen=True, slots=True)
class Facts:
    """Names with their printed values, one on each line."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class WorkingBlock:
    """How a figure was reached; a page opens it, paper prints it."""

    working: Working


@dataclass(frozen=True, slots=True)
class Photo:
    """A picture that was taken: where a page finds it, and the file that paper takes it from."""

    address: str
    file: Path


@dataclass(frozen=True, slots=True)
class Cards:
    """The rows of a table, each as a card with its picture above its first cell; files take the table.

    Its columns of money stand out, two as the ends of a range; what is empty is left out. `photos` has one for each
    row, None where there is none.
    """

    table: Table
    photos: Sequence[Photo | None]

    @property
    def cards(self) -> list[tuple[Photo | None, str, list[str], str]]:
        """(picture, name, lines, what stands out) of each row, as printed text."""
        table = round_sums(self.table)
        found = []
        for row, photo in zip(table.rows, self.photos, strict=True):
            texts = [print_cell(column, value) for column, value in zip(table.columns, row, strict=True)]
            is_money = [column.kind == "money" for column in table.columns]
            lines = [text for text, told in zip(texts, is_money, strict=True) if text and not told]
            told = [text for text, told in zip(texts, is_money, strict=True) if told]
            found.append((photo, lines[0], lines[1:], " to ".join(dict.fromkeys(told))))
        return found


@dataclass(frozen=True, slots=True)
class Care:
    """Words of care of a kind (`cautions.CAUTIONS`), where the work is."""

    kind: str


@dataclass(frozen=True, slots=True)
class NoteLines:
    """Empty lines to write on by hand, under a few words that say for what."""

    text: str
    count: int

    @property
    def lines(self) -> range:
        return range(self.count)


Block = Heading | Prose | Facts | Table | Cards | Picture | WorkingBlock | Care | NoteLines


@dataclass(frozen=True, slots=True)
class Document:
    """A report as made on a day. `filename` has no ending; `currency` names the money once ("GBP").

    `on_paper` is how many of the blocks paper has; the rest, an appendix, is left to the page. None: all of them.
    `tight` says the same in small type, for paper that should have no more than `most_sheets`: a pair of tuples in it
    stands side by side.
    """

    title: str
    subtitle: str
    studio: str
    made_on: date
    period_text: str
    blocks: tuple[Block, ...]
    filename: str
    currency: str = ""
    language: str = "en-GB"
    on_paper: int | None = None
    tight: tuple[Block | tuple[tuple[Block, ...], tuple[Block, ...]], ...] = ()
    most_sheets: int = 1

    @property
    def tables(self) -> tuple[Table, ...]:
        tables = (block.table if isinstance(block, Cards) else block for block in self.blocks)
        return tuple(table for table in tables if isinstance(table, Table))

    @property
    def facts_line(self) -> str:
        """Period, day it was made, and the currency where the document holds money."""
        has_money = any(column.kind == "money" for table in self.tables for column in table.columns)
        parts = [self.period_text, f"made {printing.print_day(self.made_on, with_year=True)}"]
        parts += [f"money in {self.currency}"] if has_money and self.currency else []
        line = "; ".join(part for part in parts if part)
        return line[:1].upper() + line[1:]


def print_cell(column: Column, value: Raw) -> str:
    """A raw value as page and paper show it."""
    if value is None:
        return printing.NOTHING if column.is_number else ""
    if isinstance(value, str):
        return value
    text = show_kind(column.kind, value)
    return f"{text}{printing.SPACE}{column.unit}" if column.kind == "count" and column.unit else text
