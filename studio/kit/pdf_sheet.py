"""Sheets of paper: where text, rules and drawings stand, laid out first and painted when all are known.

Laying out before painting is what lets "Page 2 of 5" be written, and makes long tables quick: a page is one
text object, not hundreds. Sizes are points; y goes up, as on the paper.
"""

import io
from dataclasses import dataclass, field

from reportlab.graphics import renderPDF
from reportlab.graphics.shapes import Drawing, String
from reportlab.lib.colors import Color, HexColor, black
from reportlab.lib.pagesizes import A4, landscape
from reportlab.pdfgen.canvas import Canvas

from studio.kit.chart_pen import LIGHT
from studio.kit.fonts import BOLD, REGULAR, measure, printable, register_fonts, wrap

INK = black
QUIET = HexColor(LIGHT["quiet"])
RULE = HexColor("#b9b5ab")

SIDE = 48.0
_TOP = 52.0
_BOTTOM = 54.0
_SMALL = 8.0
THIN, STRONG = 0.4, 1.0
_BOX = 0.7
BODY_SIZE = 9.5
LEADING = 1.32


@dataclass(frozen=True, slots=True)
class Style:
    """How a piece of text looks."""

    font: str = REGULAR
    size: float = BODY_SIZE
    colour: Color = INK

    @property
    def leading(self) -> float:
        return self.size * LEADING


Mark = tuple[Style, float, float, str]


@dataclass(slots=True)
class Sheet:
    """One page: texts in reading order, rules by their thickness, boxes to tick, drawings."""

    texts: list[Mark] = field(default_factory=list)
    rules: dict[float, list[tuple[float, float, float, float]]] = field(default_factory=dict)
    boxes: list[tuple[float, float, float]] = field(default_factory=list)
    drawings: list[tuple[Drawing, float, float, float]] = field(default_factory=list)


class Flow:
    """Lays blocks out one below the other, on as many sheets as it takes.

    `y` is the lower edge of what stands on the sheet so far; every method moves it down.
    """

    def __init__(self, is_landscape: bool = False) -> None:
        register_fonts()
        self.page_size: tuple[float, float] = landscape(A4) if is_landscape else A4
        self.left = SIDE
        self.width = self.page_size[0] - 2 * SIDE
        self.top = self.page_size[1] - _TOP
        self.bottom = _BOTTOM
        self.sheets: list[Sheet] = []
        self.new_sheet()

    @property
    def sheet(self) -> Sheet:
        return self.sheets[-1]

    @property
    def room(self) -> float:
        return self.y - self.bottom

    @property
    def full_room(self) -> float:
        return self.top - self.bottom

    @property
    def is_fresh(self) -> bool:
        return self.y >= self.top

    def new_sheet(self) -> None:
        self.sheets.append(Sheet())
        self.y = self.top

    def keep(self, height: float) -> None:
        """Go to a new sheet unless `height` fits; what is higher than a sheet starts where it is."""
        if height > self.room and not self.is_fresh and height <= self.full_room:
            self.new_sheet()

    def skip(self, height: float) -> None:
        """Leave space, except at the top of a sheet."""
        if not self.is_fresh:
            self.y -= height

    def write(self, style: Style, x: float, base: float, text: str) -> None:
        """Text that is already printable, with its base line at `base`."""
        self.sheet.texts.append((style, x, base, text))

    def rule(self, right: float, thickness: float = THIN, left: float | None = None) -> None:
        """A rule at the present height, from the left edge to `right`."""
        start = self.left if left is None else left
        self.sheet.rules.setdefault(thickness, []).append((start, self.y, right, self.y))

    def box(self, left: float, bottom: float, side: float) -> None:
        """An empty box to tick."""
        self.sheet.boxes.append((left, bottom, side))

    def lines(self, text: str, style: Style, width: float, indent: float = 0.0) -> None:
        """A paragraph, wrapped; it may run on to the next sheet between two lines."""
        for line in wrap(text, style.font, style.size, width - indent):
            self.keep(style.leading)
            self.y -= style.leading
            self.write(style, self.left + indent, self.y + style.size * 0.3, line)

    def pair(
        self, text: str, value: str, style: Style, value_style: Style, width: float, indent: float
    ) -> None:
        """Text on the left, its value at the right end of the first line; neither runs into the other."""
        value_width = measure(value, value_style.font, value_style.size)
        if value_width > (width - indent) * 0.5:
            self.lines(text, style, width, indent)
            self.lines(value, value_style, width, indent + 12)
            return
        lines = wrap(text, style.font, style.size, width - indent - value_width - 14)
        self.keep(style.leading * min(len(lines), 3))
        for place, line in enumerate(lines):
            self.keep(style.leading)
            self.y -= style.leading
            base = self.y + style.size * 0.3
            self.write(style, self.left + indent, base, line)
            if place == 0 and value:
                self.write(value_style, self.left + width - value_width, base, printable(value))

    def draw(self, drawing: Drawing) -> None:
        """A drawing in its own size, or shrunk to the sheet if it must be; its text is made printable."""
        scale = min(1.0, self.width / drawing.width, self.full_room / drawing.height)
        self.keep(drawing.height * scale)
        self.y -= drawing.height * scale
        # Else the file would name a typeface that it does not hold.
        drawing.initialFontName = REGULAR
        for shape in drawing.contents:
            if isinstance(shape, String):
                shape.text = printable(shape.text)
        self.sheet.drawings.append((drawing, self.left, self.y, scale))


@dataclass(frozen=True, slots=True)
class PageWords:
    """What stands on every page, and what the file says about itself."""

    title: str
    studio: str
    subject: str
    foot: str
    language: str


def paint(flow: Flow, words: PageWords) -> bytes:
    """The sheets as a PDF. The same sheets give the same bytes."""
    target = io.BytesIO()
    canvas = Canvas(
        target,
        pagesize=flow.page_size,
        invariant=1,
        pageCompression=1,
        initialFontName=REGULAR,
        initialFontSize=BODY_SIZE,
        lang=words.language,
    )
    canvas.setTitle(words.title)
    canvas.setAuthor(words.studio)
    canvas.setSubject(words.subject)
    for number, sheet in enumerate(flow.sheets, start=1):
        _add_page_words(flow, sheet, words, number)
        _paint_sheet(canvas, sheet)
        canvas.showPage()
    canvas.save()
    return target.getvalue()


def _add_page_words(flow: Flow, sheet: Sheet, words: PageWords, number: int) -> None:
    quiet = Style(size=_SMALL, colour=QUIET)
    right = flow.left + flow.width
    if number > 1:
        base = flow.top + 14
        title = _shorten(words.title, quiet, flow.width * 0.6)
        studio = _shorten(words.studio, quiet, flow.width * 0.36)
        at_right = right - measure(studio, quiet.font, quiet.size)
        # Read out before the rest of its page.
        sheet.texts[:0] = [(quiet, flow.left, base, title), (quiet, at_right, base, studio)]
        sheet.rules.setdefault(THIN, []).append((flow.left, base - 5, right, base - 5))
    base = flow.bottom - 22
    count = f"Page {number} of {len(flow.sheets)}"
    count_width = measure(count, REGULAR, _SMALL)
    foot = "; ".join(word for word in (words.studio, words.foot) if word)
    foot = _shorten(foot, quiet, flow.width - count_width - 20)
    sheet.texts += [(quiet, flow.left, base, foot), (quiet, right - count_width, base, count)]


def _shorten(text: str, style: Style, width: float) -> str:
    """One line for the edge of a page; the whole text stands on the first page."""
    lines = wrap(text.replace("\n", " "), style.font, style.size, width)
    if len(lines) == 1:
        return lines[0]
    return wrap(lines[0] + lines[1], style.font, style.size, width - style.size)[0] + "\u2026"


def _paint_sheet(canvas: Canvas, sheet: Sheet) -> None:
    canvas.setStrokeColor(RULE)
    for thickness, rules in sheet.rules.items():
        canvas.setStrokeColor(INK if thickness >= STRONG else RULE)
        canvas.setLineWidth(thickness)
        canvas.lines(rules)
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(_BOX)
    for left, bottom, side in sheet.boxes:
        canvas.rect(left, bottom, side, side)
    for drawing, x, y, scale in sheet.drawings:
        canvas.saveState()
        canvas.translate(x, y)
        canvas.scale(scale, scale)
        renderPDF.draw(drawing, canvas, 0, 0)
        canvas.restoreState()
    pen = canvas.beginText()
    now: Style | None = None
    for style, x, y, text in sheet.texts:
        if style is not now:
            pen.setFont(style.font, style.size)
            pen.setFillColor(style.colour)
            now = style
        pen.setTextOrigin(x, y)
        pen.textOut(text)
    canvas.drawText(pen)


HEADING = Style(font=BOLD, size=12)
