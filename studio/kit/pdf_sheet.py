"""The sheet of paper: its edges, what stands on every page, and how text looks. Sizes are points."""

import io
from collections.abc import Sequence
from copy import copy
from functools import partial
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import Color, HexColor, black
from reportlab.lib.pagesizes import A4, landscape
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, CondPageBreak, Flowable, Frame, PageTemplate, Paragraph

from studio.kit.chart_pen import LIGHT
from studio.kit.documents import Document
from studio.kit.fonts import BOLD, REGULAR, measure, printable, wrap

INK = black
QUIET = HexColor(LIGHT["quiet"])
RULE = HexColor("#b9b5ab")
THIN, STRONG = 0.4, 1.0

SIDE = 48.0
BODY_SIZE = 9.5
_TOP, _BOTTOM = 52.0, 54.0
_TIGHT_SIDE, _TIGHT_TOP, _TIGHT_BOTTOM = 36.0, 34.0, 40.0
_SMALL = 8.0
_LEADING = 1.32


def style(size: float = BODY_SIZE, font: str = REGULAR, colour: Color = INK, **more: Any) -> ParagraphStyle:
    """How a piece of text looks; `more` is what ReportLab knows of indents and spaces."""
    return ParagraphStyle("", fontName=font, fontSize=size, leading=size * _LEADING, textColor=colour, **more)


def write(text: str, look: ParagraphStyle, **more: Any) -> Paragraph:
    """A paragraph of plain text: nothing in it acts as markup, and a line end begins a new line."""
    own = ParagraphStyle("", look, **more) if more else look
    return Paragraph(escape(printable(text)).replace("\n", "<br/>"), own)


TITLE = style(10.5, BOLD)
"""The line above a table or a chart."""


def keep(sheet: "Sheet", height: float) -> CondPageBreak:
    """Go to a new sheet unless `height` fits; what is higher than a sheet begins on a new one."""
    return CondPageBreak(min(height, sheet.height))


class Sheet:
    """A4, upright or on its side, and the room between its edges, which are narrow on one that is tight.

    `count` is how many sheets were painted.
    """

    def __init__(self, is_landscape: bool = False, is_tight: bool = False) -> None:
        self.size: tuple[float, float] = landscape(A4) if is_landscape else A4
        self.left = _TIGHT_SIDE if is_tight else SIDE
        self.width = self.size[0] - 2 * self.left
        self.top = self.size[1] - (_TIGHT_TOP if is_tight else _TOP)
        self.bottom = _TIGHT_BOTTOM if is_tight else _BOTTOM
        self.height = self.top - self.bottom
        self.count = 0

    def narrowed(self, width: float) -> "Sheet":
        """The same for something that has only so much of its width."""
        narrow = copy(self)
        narrow.width = width
        return narrow

    def paint(self, document: Document, story: Sequence[Flowable]) -> bytes:
        """The blocks of a document as a PDF; the same blocks give the same bytes."""
        target = io.BytesIO()
        template = BaseDocTemplate(
            target,
            pagesize=self.size,
            title=document.title,
            author=document.studio,
            subject=document.subtitle,
            lang=document.language,
            invariant=1,
            pageCompression=1,
            initialFontName=REGULAR,
            initialFontSize=BODY_SIZE,
        )
        frame = Frame(self.left, self.bottom, self.width, self.height, 0, 0, 0, 0)
        template.addPageTemplates(PageTemplate(frames=[frame], onPage=partial(self._write_head, document)))
        template.build(list(story), canvasmaker=partial(_CountedCanvas, self, document))
        return target.getvalue()

    def _write_head(self, document: Document, canvas: Canvas, template: BaseDocTemplate) -> None:
        """Whose and what, above every page but the first, which begins with both."""
        if template.page == 1:
            return
        base, right = self.top + 14, self.left + self.width
        canvas.setFont(REGULAR, _SMALL)
        canvas.setFillColor(QUIET)
        canvas.drawString(self.left, base, _shorten(document.title, self.width * 0.6))
        canvas.drawRightString(right, base, _shorten(document.studio, self.width * 0.36))
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(THIN)
        canvas.line(self.left, base - 5, right, base - 5)

    def write_foot(self, document: Document, canvas: Canvas, number: int, count: int) -> None:
        base, told = self.bottom - 22, f"Page {number} of {count}"
        foot = "; ".join(word for word in (document.studio, document.facts_line) if word)
        canvas.setFont(REGULAR, _SMALL)
        canvas.setFillColor(QUIET)
        canvas.drawString(self.left, base, _shorten(foot, self.width - measure(told, REGULAR, _SMALL) - 20))
        canvas.drawRightString(self.left + self.width, base, told)


class _CountedCanvas(Canvas):
    """Keeps its pages until all are known, so that each can tell how many there are."""

    def __init__(self, sheet: Sheet, document: Document, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._sheet, self._document = sheet, document
        self._kept: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802 - the name that the library calls
        self._kept.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        self._sheet.count = len(self._kept)
        for number, page in enumerate(self._kept, start=1):
            self.__dict__.update(page)
            self._sheet.write_foot(self._document, self, number, len(self._kept))
            super().showPage()
        super().save()


def _shorten(text: str, width: float) -> str:
    """One line for the edge of a page; the whole text stands on the first page."""
    lines = wrap(text.replace("\n", " "), REGULAR, _SMALL, width)
    if len(lines) == 1:
        return lines[0]
    return wrap(lines[0] + lines[1], REGULAR, _SMALL, width - _SMALL)[0] + "\u2026"
