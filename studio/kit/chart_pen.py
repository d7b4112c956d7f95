"""What every chart is drawn with: roles for colours, a picture with its text, and a key in words.

A shape carries a role, not a colour of its own: paper takes the light palette, a page its style sheet's.
Sizes are points on paper and pixels on a page; floats here are places on a drawing, never grams or money.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.graphics.shapes import Circle, Drawing, Line, Rect, Shape, String
from reportlab.lib.colors import HexColor

from studio.kit.fonts import BOLD, REGULAR, measure, wrap

WIDE = 720.0
SCREEN_TEXT = 14.0
PAPER_TEXT = 9.0

LIGHT = {
    "ink": "#22252a",
    "quiet": "#5c6068",
    "rule": "#d9d4c8",
    "ground": "#ffffff",
    "pieces": "#3b6f8f",
    "back": "#838f8b",
    "filings": "#a9864e",
    "lost": "#b4483a",
    "mould": "#7a6a9c",
    "kiln": "#b5651d",
    "time": "#4f7d46",
    "other": "#5c6068",
    "used": "#838f8b",
    "left": "#1f5f5b",
}
"""Role to colour on paper. On a page `static/studio/charts.css` gives each role the colour of the theme."""

COST_ROLES = ("pieces", "lost", "mould", "kiln", "filings", "time", "back", "other")
"""Colours for the parts of a cost, in the order in which they are laid."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A chart, what it says in a sentence, and the same figures as printed text.

    `draw(width, text_size)` draws it for a width, so that text is never shrunk: once for each that it is shown in,
    and not before. `rows` are empty where the words on the chart give every figure.
    """

    draw: Callable[[float, float], Drawing]
    title: str
    description: str
    headers: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    width: float = WIDE

    @property
    def drawing(self) -> Drawing:
        """A fresh drawing of its own width, with text for a screen."""
        return self.draw(self.width, SCREEN_TEXT)


@dataclass(frozen=True, slots=True)
class KeyEntry:
    """One entry of the key: `mark` is "box", "frame", "line", "dashes" or "dot"."""

    role: str
    text: str
    mark: str = "box"


@dataclass(frozen=True, slots=True)
class Plot:
    """Where a chart is drawn on its sheet, and the lowest and highest value of its upright scale."""

    left: float
    right: float
    bottom: float
    top: float
    low: int
    high: int

    def y(self, value: int) -> float:
        return self.bottom + (self.top - self.bottom) * (value - self.low) / (self.high - self.low)


def with_role(shape: Shape, role: str, stroke: bool = False) -> Shape:
    """Give a shape its role and the role's colour on paper. Raises KeyError for a role without a colour."""
    colour = HexColor(LIGHT[role])
    if stroke:
        shape.strokeColor = colour
    else:
        shape.fillColor = colour
    # ReportLab checks the names of public attributes only.
    shape._role = role
    return shape


def draw_box(x: float, y: float, width: float, height: float, role: str) -> Shape:
    """A filled rectangle without an outline."""
    return with_role(Rect(x, y, width, height, strokeColor=None, strokeWidth=0), role)


def draw_outline(x: float, y: float, width: float, height: float) -> Shape:
    """A thin frame that shows where a bar ends, whatever the colours inside it are."""
    return with_role(Rect(x, y, width, height, fillColor=None, strokeWidth=1), "quiet", stroke=True)


def draw_line(x1: float, y1: float, x2: float, y2: float, role: str, dashed: bool = False) -> Shape:
    """A straight line, one wide."""
    options: dict[str, Any] = {"strokeDashArray": [5, 4]} if dashed else {}
    return with_role(Line(x1, y1, x2, y2, strokeWidth=1, **options), role, stroke=True)


def draw_text(x: float, y: float, text: str, size: float, anchor: str = "start", bold: bool = False) -> Shape:
    """Text on its base line; `anchor` is "start", "middle" or "end"."""
    face = BOLD if bold else REGULAR
    return with_role(String(x, y, text, fontName=face, fontSize=size, textAnchor=anchor), "ink")


def draw_key(entries: Sequence[KeyEntry], width: float, size: float) -> tuple[list[Shape], float]:
    """Lay the key out in lines no wider than `width`, from 0 upwards.

    Returns the shapes and the height they take.
    """
    from_mark, between, leading = size * 1.25, size * 1.1, size * 1.55
    shapes: list[Shape] = []
    x, y = 0.0, -leading
    for entry in entries:
        # A page may fall back to a wider typeface: leave it a little room.
        taken = from_mark + measure(entry.text, REGULAR, size) * 1.04
        if x and x + taken > width:
            x, y = 0.0, y - leading
        lines = wrap(entry.text, REGULAR, size, (width - from_mark) / 1.04)
        shapes.append(_draw_mark(entry, x, y, size))
        for line in lines:
            shapes.append(draw_text(x + from_mark, y, line, size))
            y -= leading
        y += leading
        x = width if len(lines) > 1 else x + taken + between
    height = -y + size * 0.35
    for shape in shapes:
        for name in ("y", "y1", "y2", "cy"):
            if hasattr(shape, name):
                setattr(shape, name, getattr(shape, name) + height)
    return shapes, height


def _draw_mark(entry: KeyEntry, x: float, y: float, size: float) -> Shape:
    side = size * 0.8
    if entry.mark in {"line", "dashes"}:
        middle = y + size * 0.32
        return draw_line(x, middle, x + side, middle, entry.role, dashed=entry.mark == "dashes")
    if entry.mark == "dot":
        return with_role(Circle(x + side / 2, y + size * 0.32, size * 0.36, strokeColor=None), entry.role)
    if entry.mark == "frame":
        return draw_outline(x, y - size * 0.06, side, side)
    return draw_box(x, y - size * 0.06, side, side, entry.role)


def draw_scale(
    marks: Sequence[tuple[float, str]], left: float, right: float, text_size: float
) -> list[Shape]:
    """A thin line across for each mark of an upright scale, and its words on the left of `left`."""
    shapes: list[Shape] = []
    for y, text in marks:
        shapes.append(draw_line(left, y, right, y, "rule"))
        shapes.append(draw_text(left - text_size * 0.5, y - text_size * 0.34, text, text_size, "end"))
    return shapes
