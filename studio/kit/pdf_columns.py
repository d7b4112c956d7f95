"""Widths of a table's columns on paper, found from what is in them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

from reportlab.pdfbase import pdfmetrics

from studio.kit.documents import Column, Table, print_cell, round_sums
from studio.kit.fonts import BOLD, REGULAR, printable, register_fonts

SIZES = (9.0, 8.5, 8.0)
"""Sizes a table is tried in; nothing is printed smaller."""

_GAP = 11.0
_WIDEST_GAP = 30.0
_LONGEST_WORD = 110.0
_MANY_COLUMNS = 10
# Columns that are filled in by hand, for type of size 1.
_BY_HAND = {"box": 1.2, "blank": 9.0}


@dataclass(frozen=True)
class Cells:
    """A table as printable text, measured once for type of size 1."""

    columns: tuple[Column, ...]
    labels: list[str]
    rows: list[list[str]]
    totals: list[str] | None

    @cached_property
    def wanted(self) -> list[float]:
        """Width of each column with every cell on one line and the heading on two."""
        return _measure_columns(self)

    @cached_property
    def least(self) -> list[float]:
        """The least width of each column that breaks no number and no ordinary word."""
        return _measure_least(self)

    def pick(self, places: Sequence[int]) -> "Cells":
        """Some of the columns."""
        return Cells(
            tuple(self.columns[place] for place in places),
            [self.labels[place] for place in places],
            [[row[place] for place in places] for row in self.rows],
            [self.totals[place] for place in places] if self.totals else None,
        )


@dataclass(frozen=True, slots=True)
class Fit:
    """A size of type and the width of each column; `wraps` says which columns may need more than one line."""

    size: float
    widths: list[float]
    gap: float
    wraps: list[bool]
    is_forced: bool = False

    @property
    def width(self) -> float:
        return sum(self.widths) + self.gap * (len(self.widths) - 1)


def read_cells(table: Table) -> Cells:
    """Every cell as text of the typeface."""
    table = round_sums(table)
    columns = table.columns
    rows = [
        [printable(print_cell(column, value)) for column, value in zip(columns, row, strict=True)]
        for row in table.rows
    ]
    totals = None
    if table.totals is not None:
        # What has no total is left empty, not marked as unknown.
        totals = [
            "" if value is None else printable(print_cell(column, value))
            for column, value in zip(columns, table.totals, strict=True)
        ]
    return Cells(columns, [printable(column.label) for column in columns], rows, totals)


def needs_landscape(cells: Cells, upright_width: float) -> bool:
    """Whether the table is better read on a sheet turned on its side."""
    return len(cells.columns) >= _MANY_COLUMNS or fit_columns(cells, upright_width).is_forced


def fit_columns(cells: Cells, room: float, sizes: Sequence[float] = SIZES) -> Fit:
    """Widths that show every cell: on one line where that fits, else wrapped, at worst inside words."""
    gaps = _GAP * (len(cells.columns) - 1)
    for size in sizes:
        widths = [width * size for width in cells.wanted]
        if sum(widths) + gaps <= room:
            spare = (room - sum(widths)) / max(len(widths) - 1, 1)
            return Fit(size, widths, min(spare, _WIDEST_GAP), [False] * len(widths))
    for size in sizes:
        full, small = [width * size for width in cells.wanted], [width * size for width in cells.least]
        spare = room - gaps - sum(small)
        if spare >= 0:
            share = spare / sum(big - little for big, little in zip(full, small, strict=True))
            widths = [little + (big - little) * share for big, little in zip(full, small, strict=True)]
            return Fit(size, widths, _GAP, [big > little for big, little in zip(full, small, strict=True)])
    size = sizes[-1]
    gap = min(_GAP, room / len(cells.columns) * 0.25)
    widths = _cut_widest([width * size for width in cells.least], room - gap * (len(cells.columns) - 1))
    return Fit(size, widths, gap, [True] * len(widths), is_forced=True)


def _measure_columns(cells: Cells) -> list[float]:
    register_fonts()
    plain, bold = pdfmetrics.getFont(REGULAR).stringWidth, pdfmetrics.getFont(BOLD).stringWidth
    widths = []
    for place, label in enumerate(cells.labels):
        width = max((_widest_line(row[place], plain) for row in cells.rows), default=0.0)
        if cells.totals:
            width = max(width, _widest_line(cells.totals[place], bold))
        heading = max(_widest_word(label, plain), plain(label, 1) * 0.55)
        by_hand = _BY_HAND.get(cells.columns[place].kind, 0.0)
        # A hair more, so that rounding never wraps what was measured to fit.
        widths.append(max(width, heading, by_hand) + 0.02)
    return widths


def _measure_least(cells: Cells) -> list[float]:
    plain, bold = pdfmetrics.getFont(REGULAR).stringWidth, pdfmetrics.getFont(BOLD).stringWidth
    longest = _LONGEST_WORD / SIZES[0]
    least = []
    for place, wanted in enumerate(cells.wanted):
        column = cells.columns[place]
        if column.kind in _BY_HAND or column.is_number and wanted <= longest:
            least.append(wanted)
            continue
        width = max((_widest_word(row[place], plain) for row in cells.rows), default=0.0)
        width = max(width, _widest_word(cells.labels[place], plain))
        if cells.totals:
            width = max(width, _widest_word(cells.totals[place], bold))
        least.append(min(wanted, longest, max(width + 0.02, longest * 0.5)))
    return least


def _widest_line(text: str, width_of: Callable[[str, float], float]) -> float:
    if "\n" in text:
        return max(width_of(line, 1) for line in text.split("\n"))
    return width_of(text, 1)


def _widest_word(text: str, width_of: Callable[[str, float], float]) -> float:
    return max(width_of(word, 1) for word in text.replace("\n", " ").split(" "))


def _cut_widest(widths: Sequence[float], room: float) -> list[float]:
    """Take from the widest columns only, until they fit: one common limit for all of them."""
    left, limit = room, room / len(widths)
    for place, width in enumerate(sorted(widths)):
        limit = left / (len(widths) - place)
        if width > limit:
            break
        left -= width
    return [min(width, limit) for width in widths]


def split_columns(cells: Cells, room: float) -> list[Cells]:
    """A table with more columns than a sheet shows becomes several, each beginning with the first column."""
    if len(cells.columns) < 3 or not fit_columns(cells, room).is_forced:
        return [cells]
    size = SIZES[-1]
    bands: list[list[int]] = []
    left = 0.0
    for place in range(1, len(cells.columns)):
        width = cells.least[place] * size + _GAP
        if not bands or width > left:
            bands.append([0])
            left = room - cells.least[0] * size
        bands[-1].append(place)
        left -= width
    return [cells.pick(band) for band in bands]
