"""Tables on paper: a heading on every sheet, totals under a strong rule, nothing cut off.

Every sheet gets a table of its own: one table over many sheets copies all that is left of it at each page break,
which takes half a minute for a long ledger.
"""

from collections.abc import Sequence
from itertools import accumulate, takewhile

from reportlab.lib.colors import Color
from reportlab.platypus import Flowable, Table
from reportlab.platypus.tables import CellStyle

from studio.kit.fonts import BOLD, REGULAR, wrap
from studio.kit.pdf_columns import SIZES, Cells, Fit, fit_columns, split_columns
from studio.kit.pdf_sheet import INK, QUIET, RULE, STRONG, THIN, TITLE, Sheet, keep, style, write

# Rows that are written in by hand are higher.
_PADS = 2.1, 3.6
TIGHT = 0.9, 2.7
_MOST_HEADING_LINES = 8
_MOST_SHORT_ROWS = 40

Row = list[str]
"""The text of each cell, a line end where it is wrapped."""


def lay_table(sheet: Sheet, caption: str, cells: Cells, before: float = 12) -> list[Flowable]:
    """The table under its caption; one with more columns than a sheet holds comes in parts."""
    bands = split_columns(cells, sheet.width)
    laid: list[Flowable] = []
    for number, band in enumerate(bands, start=1):
        part = f"part {number} of {len(bands)}" if len(bands) > 1 else ""
        title = ", ".join(word for word in (caption, part) if word)
        look = _Look(sheet, title, band, fit_columns(band, sheet.width))
        rows = look.wrap_rows()
        start = look.heading_height + max(3 * look.height_of([""]), *map(look.height_of, rows[:1]))
        # A short table stays whole; more rows than these are never short.
        whole = look.heading_height + sum(map(look.height_of, rows[:_MOST_SHORT_ROWS]))
        start = whole if start < whole < sheet.height / 3 else start
        laid.append(keep(sheet, before + TITLE.leading + start))
        laid += [write(title, TITLE, spaceBefore=before)] if title else []
        laid.append(_Rows(look, rows))
    return laid


def lay_whole(sheet: Sheet, cells: Cells, pads: tuple[float, float]) -> Table:
    """A table in the smallest type that may stand beside others."""
    look = _Look(sheet, "", cells, fit_columns(cells, sheet.width, SIZES[-1:]), pads)
    table = look.make(look.wrap_rows(), has_totals=bool(cells.totals))
    table.repeatRows = 1
    return table


class _Box(Flowable):
    """An empty box to tick, as high as the text beside it."""

    def __init__(self, side: float) -> None:
        super().__init__()
        self.width = self.height = side

    def draw(self) -> None:
        self.canv.setLineWidth(0.7)
        self.canv.setStrokeColor(INK)
        self.canv.rect(0, -0.12 * self.height, self.width, self.height)


class _Look:
    """What every sheet of one table shares."""

    def __init__(
        self, sheet: Sheet, caption: str, cells: Cells, fit: Fit, pads: tuple[float, float] = _PADS
    ) -> None:
        self.sheet, self.caption, self.cells, self.fit = sheet, caption, cells, fit
        self.quiet = style(fit.size, colour=QUIET)
        self.leading = self.quiet.leading
        self.pad = pads[any(one.kind == "blank" for one in cells.columns)]
        self.heading = [self._wrap_label(*one) for one in zip(cells.labels, fit.widths, strict=True)]
        self.heading_height = self.height_of(self.heading)
        self.box = _Box(fit.size)
        self.heading_styles = self._style_cells(colour=QUIET, valign="BOTTOM")
        self.styles = self._style_cells(colour=INK if cells.rows else QUIET)
        self.total_styles = self._style_cells(BOLD)

    def _wrap_label(self, label: str, width: float) -> str:
        lines = wrap(label, REGULAR, self.fit.size, width)
        more = "\u2026" if len(lines) > _MOST_HEADING_LINES else ""
        return "\n".join(lines[:_MOST_HEADING_LINES]) + more

    def _style_cells(self, font: str = REGULAR, colour: Color = INK, valign: str = "TOP") -> list[CellStyle]:
        """One style for each column, shared by all rows: commands would set every cell's own, which takes long."""
        styles = []
        for place, column in enumerate(self.cells.columns, start=1):
            one = CellStyle("")
            one.fontname, one.fontsize, one.leading = font, self.fit.size, self.leading
            one.color, one.valign, one.alignment = colour, valign, "RIGHT" if column.is_number else "LEFT"
            one.leftPadding, one.rightPadding = 0, self.fit.gap if place < len(self.cells.columns) else 0
            one.topPadding = one.bottomPadding = self.pad
            styles.append(one)
        return styles

    def height_of(self, row: Row) -> float:
        return (1 + max(text.count("\n") for text in row)) * self.leading + 2 * self.pad

    def wrap_rows(self) -> list[Row]:
        """Every row, and the totals last."""
        nothing = ["Nothing to show.", *[""] * (len(self.cells.columns) - 1)]
        rows = [self._wrap_row(row, REGULAR) for row in self.cells.rows] or [nothing]
        return [*rows, self._wrap_row(self.cells.totals, BOLD)] if self.cells.totals else rows

    def _wrap_row(self, row: Row, font: str) -> Row:
        if any(self.fit.wraps):
            widths = zip(row, self.fit.widths, strict=True)
            return ["\n".join(wrap(text, font, self.fit.size, width)) for text, width in widths]
        return row

    def make(self, rows: Sequence[Row], has_totals: bool) -> Table:
        """A sheet's share of the rows under the heading; `has_totals` says that the last of them is the totals."""
        boxes = [place for place, column in enumerate(self.cells.columns) if column.kind == "box"]
        data: list[list[object]] = [[*row] for row in (self.heading, *rows)]
        for row in data[1 : -1 if has_totals else None]:
            for place in boxes:
                row[place] = row[place] or self.box
        rules = [("LINEBELOW", (0, 0), (-1, 0), 0.7, RULE), ("LINEBELOW", (0, 1), (-1, -1), THIN, RULE)]
        styles = [self.heading_styles, *[self.styles] * len(rows)]
        if has_totals:
            rules.append(("LINEABOVE", (0, -1), (-1, -1), STRONG, INK))
            styles[-1] = self.total_styles
        return Table(
            data,
            colWidths=[width + self.fit.gap for width in self.fit.widths[:-1]] + self.fit.widths[-1:],
            rowHeights=[self.heading_height, *map(self.height_of, rows)],
            style=rules,
            cellStyles=styles,
            hAlign="LEFT",
        )


class _Rows(Flowable):
    """Rows that are still to be placed. It is too high for any sheet, so it is asked for a sheet's share each time."""

    def __init__(self, look: _Look, rows: Sequence[Row], is_first: bool = True) -> None:
        super().__init__()
        self.look, self.rows, self.is_first = look, rows, is_first

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        return width, self.look.sheet.height + 1

    def split(self, _width: float, height: float) -> list[Flowable]:
        look, full = self.look, self.look.sheet.height
        is_fresh = height > full - 1
        if not (self.is_first or is_fresh):
            return []
        lead: list[Flowable] = []
        if not self.is_first and look.caption:
            # The full caption stood where the table began.
            line = wrap(look.caption, REGULAR, look.fit.size, look.sheet.width * 0.8)[0]
            lead.append(write(f"{line}, continued", look.quiet))
        room = height - look.heading_height - look.leading * len(lead)
        here, left = self._share(room, is_fresh)
        if not here:
            return []
        table = look.make(here, has_totals=bool(look.cells.totals) and not left)
        return [*lead, table, *([_Rows(look, left, is_first=False)] if left else [])]

    def _share(self, room: float, is_fresh: bool) -> tuple[Sequence[Row], Sequence[Row]]:
        """The rows for a sheet and those left; a row stays whole unless it is higher than a sheet."""
        look, rows = self.look, self.rows
        heights = list(takewhile(room.__ge__, accumulate(map(look.height_of, rows))))
        count = len(heights)
        if count == len(rows):
            return rows, []
        if look.cells.totals:
            # Totals never stand alone on a sheet.
            count = max(min(count, len(rows) - 2), min(count, int(is_fresh)))
        here, left = rows[:count], rows[count:]
        room -= heights[count - 1] if count else 0.0
        lines = int((room - 2 * look.pad) // look.leading)
        if lines < 2 or look.height_of(left[0]) <= look.sheet.height - look.heading_height - look.leading:
            return here, left
        texts = [text.split("\n") for text in left[0]]
        top, rest = (["\n".join(text[part]) for text in texts] for part in (slice(lines), slice(lines, None)))
        return [*here, top], [rest, *left[1:]]
