"""Sheets of labels on paper: each with a QR code and a few lines beside it. Lengths are micrometres or points.

A code has four modules of white around it, as ISO/IEC 18004 (6.3.8, quiet zone) asks.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import segno
from reportlab.lib.colors import black
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from studio.kit.fonts import BOLD, REGULAR, measure, printable, register_fonts, wrap
from studio.kit.units import UM_PER_MM

QUIET_MODULES = 4
SMALLEST_LABEL_UM = 12 * UM_PER_MM
_LARGEST_CODE = 26 * mm
_PAD = 1.5 * mm
_CODE_SHARE = 0.45
_CUT = "…"
_SIZES = (10.0, 9.0, 8.0, 7.0, 6.5, 6.0, 5.5)
_LEADING = 1.2
_BESIDE = 1.4  # a label as much wider than high has its words beside the code, any other below it


@dataclass(frozen=True, slots=True)
class SheetShape:
    """How labels lie on a page: (across, down) in micrometres; `first_um` is the corner of the first label."""

    page_um: tuple[int, int]
    columns: int
    rows: int
    label_um: tuple[int, int]
    first_um: tuple[int, int]
    gap_um: tuple[int, int]

    @property
    def places(self) -> int:
        """How many labels are on a sheet."""
        return self.columns * self.rows

    @property
    def taken_um(self) -> tuple[int, int]:
        """How far the last label reaches, from the left and from the top."""
        counts = (self.columns, self.rows)
        each = zip(self.first_um, counts, self.label_um, self.gap_um, strict=True)
        across, down = (first + count * label + (count - 1) * gap for first, count, label, gap in each)
        return across, down

    def corner(self, place: int) -> tuple[float, float]:
        """The lower left corner in points of a place, counted from 0 along the rows from the top left."""
        row, column = divmod(place, self.columns)
        x = self.first_um[0] + column * (self.label_um[0] + self.gap_um[0])
        y = self.first_um[1] + row * (self.label_um[1] + self.gap_um[1]) + self.label_um[1]
        return _points(x), _points(self.page_um[1] - y)


@dataclass(frozen=True, slots=True)
class Label:
    """What the code says, and the lines beside it: the first is the name."""

    code: str
    lines: tuple[str, ...]


def _points(um: int) -> float:
    return um / UM_PER_MM * mm


def draw_labels(shape: SheetShape, labels: Sequence[Label], first: int, title: str) -> bytes:
    """The labels as a PDF, from the place `first` on, counted from 1; the same labels give the same bytes."""
    register_fonts()
    target = io.BytesIO()
    size = (_points(shape.page_um[0]), _points(shape.page_um[1]))
    canvas = Canvas(target, pagesize=size, invariant=1, pageCompression=1, initialFontName=REGULAR)
    canvas.setTitle(title)
    width, height = _points(shape.label_um[0]), _points(shape.label_um[1])
    for number, label in enumerate(labels, start=first - 1):
        if number % shape.places == 0 and number:
            canvas.showPage()
        canvas.saveState()
        canvas.translate(*shape.corner(number % shape.places))
        canvas.setFillColor(black)
        _draw(canvas, label, width, height)
        canvas.restoreState()
    canvas.save()
    return target.getvalue()


def _draw(canvas: Canvas, label: Label, width: float, height: float) -> None:
    if width >= _BESIDE * height:
        side = min(height, width * _CODE_SHARE, _LARGEST_CODE)
        _draw_code(canvas, label.code, 0, (height - side) / 2, side)
        words, size = _fit(label.lines, width - side - _PAD, height - 2 * _PAD)
        _write(canvas, words, size, side, (height + len(words) * size * _LEADING) / 2)
    else:
        side = min(width, height * 0.66, _LARGEST_CODE)
        _draw_code(canvas, label.code, (width - side) / 2, height - side, side)
        words, size = _fit(label.lines, width - 2 * _PAD, height - side - _PAD)
        _write(canvas, words, size, _PAD, height - side)


def _draw_code(canvas: Canvas, text: str, x: float, y: float, side: float) -> None:
    """The code with the white around it, in a square from (x, y) up and to the right."""
    rows = [list(row) for row in segno.make_qr(text, error="m").matrix]
    module = side / (len(rows) + 2 * QUIET_MODULES)
    left, top = x + QUIET_MODULES * module, y + side - QUIET_MODULES * module
    path = canvas.beginPath()
    for number, row in enumerate(rows, start=1):
        place = 0
        for is_dark, run in groupby(row):
            length = len(list(run))
            if is_dark:
                path.rect(left + place * module, top - number * module, length * module, module)
            place += length
    canvas.drawPath(path, stroke=0, fill=1)


def _write(canvas: Canvas, words: Sequence[tuple[str, str]], size: float, x: float, top: float) -> None:
    for number, (text, font) in enumerate(words):
        canvas.setFont(font, size)
        canvas.drawString(x, top - (number + 0.85) * size * _LEADING, printable(text))


def _fit(lines: Sequence[str], width: float, height: float) -> tuple[list[tuple[str, str]], float]:
    """(text, font) of each line and the size of the letters: the largest in which all fit, uncut if that can be."""
    fitting = [
        (laid, size) for size in _SIZES if len(laid := _lay(lines, size, width)) * size * _LEADING <= height
    ]
    uncut = (one for one in fitting if not any(text.endswith(_CUT) for text, _ in one[0]))
    found = next(uncut, fitting[-1] if fitting else None)
    if found is not None:
        return found
    smallest = _SIZES[-1]
    return _lay(lines, smallest, width)[: max(1, int(height // (smallest * _LEADING)))], smallest


def _lay(lines: Sequence[str], size: float, width: float) -> list[tuple[str, str]]:
    """The name and each other line, on two lines at most."""
    laid = []
    for number, line in enumerate(line for line in lines if line):
        font = REGULAR if number else BOLD
        first, *rest = wrap(line, font, size, width)
        laid.append((first, font))
        if rest:
            laid.append((_shorten(" ".join(rest), font, size, width), font))
    return laid


def _shorten(text: str, font: str, size: float, width: float) -> str:
    """The text, or as much of it as fits on one line before the sign that it was cut."""
    if measure(text, font, size) <= width:
        return text
    while text and measure(text + _CUT, font, size) > width:
        text = text[:-1]
    return text.rstrip(" ,") + _CUT
