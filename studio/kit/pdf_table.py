"""Tables on paper: a heading on every sheet, totals under a strong rule, nothing cut off.

Rows are placed straight on the sheet. A table object of the PDF library copies its rest at every page break,
which takes half a minute for a long ledger.
"""

from reportlab.pdfbase import pdfmetrics

from studio.kit.fonts import BOLD, REGULAR, wrap
from studio.kit.pdf_columns import Cells, Fit, fit_columns, split_columns
from studio.kit.pdf_sheet import LEADING, QUIET, STRONG, Flow, Style

_PAD = 2.1
# Rows that are written in by hand are higher.
_WRITING_PAD = 3.6
_MOST_HEADING_LINES = 8

Edge = tuple[float, float, bool]
"""Left and right edge of a column, and whether its text stands at the right."""


def place_table(flow: Flow, caption: str, cells: Cells) -> None:
    """Put the table on the flow's sheets: caption, heading on every sheet, rows, totals."""
    bands = split_columns(cells, flow.width)
    for number, band in enumerate(bands, start=1):
        part = f"part {number} of {len(bands)}" if len(bands) > 1 else ""
        if number > 1:
            flow.skip(14)
        title = ", ".join(word for word in (caption, part) if word)
        _Placer(flow, title, band, fit_columns(band, flow.width)).place()


class _Placer:
    def __init__(self, flow: Flow, caption: str, cells: Cells, fit: Fit) -> None:
        self.flow, self.caption, self.cells, self.fit = flow, caption, cells, fit
        self.style = Style(size=fit.size)
        self.strong = Style(font=BOLD, size=fit.size)
        self.quiet = Style(size=fit.size, colour=QUIET)
        self.title = Style(font=BOLD, size=10.5)
        self.leading = fit.size * LEADING
        self.pad = _WRITING_PAD if any(one.kind == "blank" for one in cells.columns) else _PAD
        self.right = flow.left + fit.width
        self.edges = self._find_edges()
        self.heading = self._wrap_heading()
        heading_lines = max(len(lines) for lines in self.heading)
        self.heading_height = heading_lines * self.leading + 2 * self.pad

    def _find_edges(self) -> list[Edge]:
        edges, x = [], self.flow.left
        for column, width in zip(self.cells.columns, self.fit.widths, strict=True):
            edges.append((x, x + width, column.is_number))
            x += width + self.fit.gap
        return edges

    def _wrap_heading(self) -> list[list[str]]:
        heading = []
        for label, width in zip(self.cells.labels, self.fit.widths, strict=True):
            lines = wrap(label, REGULAR, self.fit.size, width)
            if len(lines) > _MOST_HEADING_LINES:
                lines = [*lines[: _MOST_HEADING_LINES - 1], lines[_MOST_HEADING_LINES - 1] + "\u2026"]
            heading.append(lines)
        return heading

    def place(self) -> None:
        row_height = self.leading + 2 * self.pad
        self.flow.keep(self.title.leading + self.heading_height + 3 * row_height)
        if self.caption:
            self.flow.lines(self.caption, self.title, self.flow.width)
        self._place_heading()
        last = len(self.cells.rows) - 1
        for number, row in enumerate(self.cells.rows):
            self._place_row(row, self.style, row_height if number == last and self.cells.totals else 0.0)
        if not self.cells.rows:
            self.flow.lines("Nothing to show.", self.quiet, self.flow.width)
        if self.cells.totals:
            self.flow.rule(self.right, STRONG)
            self._place_row(self.cells.totals, self.strong, 0.0)

    def _place_heading(self) -> None:
        flow = self.flow
        flow.y -= self.heading_height
        for edge, lines in zip(self.edges, self.heading, strict=True):
            base = flow.y + self.pad + self.fit.size * 0.3 + (len(lines) - 1) * self.leading
            for line in lines:
                self._write(self.quiet, edge, base, line)
                base -= self.leading
        flow.rule(self.right, 0.7)

    def _turn_sheet(self) -> None:
        flow = self.flow
        flow.new_sheet()
        if self.caption:
            # The full caption stood where the table began.
            line = wrap(self.caption, REGULAR, self.fit.size, flow.width * 0.8)[0]
            flow.lines(f"{line}, continued", self.quiet, flow.width)
        self._place_heading()

    def _place_row(self, row: list[str], style: Style, keep_also: float) -> None:
        if any(self.fit.wraps) or any("\n" in text for text in row):
            self._place_tall_row(self._wrap_row(row, style), style, keep_also)
            return
        flow = self.flow
        height = self.leading + 2 * self.pad
        if height + keep_also > flow.room:
            self._turn_sheet()
        flow.y -= height
        base = flow.y + self.pad + self.fit.size * 0.3
        for edge, text in zip(self.edges, row, strict=True):
            if text:
                self._write(style, edge, base, text)
        if style is self.style:
            self._place_boxes(row, base)
        flow.rule(self.right)

    def _place_boxes(self, row: list[str], base: float) -> None:
        for column, (left, _, _), text in zip(self.cells.columns, self.edges, row, strict=True):
            if column.kind == "box" and not text:
                self.flow.box(left, base - self.fit.size * 0.12, self.fit.size)

    def _wrap_row(self, row: list[str], style: Style) -> list[list[str]]:
        widths = self.fit.widths
        return [wrap(text, style.font, style.size, width) for text, width in zip(row, widths, strict=True)]

    def _place_tall_row(self, cells: list[list[str]], style: Style, keep_also: float) -> None:
        """A row of several lines; only a row higher than a sheet is ever divided."""
        flow = self.flow
        count = max(len(lines) for lines in cells)
        height = count * self.leading + 2 * self.pad
        fits_a_sheet = height + keep_also + self.heading_height + self.leading <= flow.full_room
        if height + keep_also > flow.room and fits_a_sheet:
            self._turn_sheet()
        start = 0
        while start < count:
            lines_here = int((flow.room - 2 * self.pad) // self.leading)
            if lines_here < min(2, count - start):
                self._turn_sheet()
                lines_here = max(int((flow.room - 2 * self.pad) // self.leading), 1)
            end = min(count, start + lines_here)
            self._place_lines([lines[start:end] for lines in cells], end - start, style)
            start = end
        flow.rule(self.right)

    def _place_lines(self, cells: list[list[str]], count: int, style: Style) -> None:
        flow = self.flow
        first = flow.y - self.pad - self.leading + self.fit.size * 0.3
        for edge, lines in zip(self.edges, cells, strict=True):
            for nth, line in enumerate(lines):
                self._write(style, edge, first - nth * self.leading, line)
        if style is self.style:
            self._place_boxes(["".join(lines) for lines in cells], first)
        flow.y -= count * self.leading + 2 * self.pad

    def _write(self, style: Style, edge: Edge, base: float, text: str) -> None:
        left, right, is_number = edge
        if is_number:
            left = right - pdfmetrics.stringWidth(text, style.font, style.size)
        self.flow.sheet.texts.append((style, left, base, text))
