"""What every chart is drawn with: roles for colours, a picture with its text, and a key in words.

A shape carries a role, not a colour of its own: paper takes the light palette, a page its style sheet's.
Sizes are points on paper and pixels on a page; floats here are places on a drawing, never grams or money.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from html import escape
from typing import Any

from django.utils.safestring import SafeString, mark_safe
from reportlab.graphics.shapes import Circle, Drawing, Group, Line, Polygon, PolyLine, Rect, Shape, String
from reportlab.lib.colors import Color, HexColor

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

    def y(self, value: float) -> float:
        return self.bottom + (self.top - self.bottom) * (value - self.low) / (self.high - self.low)


def with_role(shape: Shape, role: str, stroke: bool = False) -> Shape:
    """Give a shape its role and the role's colour on paper. Raises KeyError for a role without a colour."""
    colour = _colour_of(role)
    if stroke:
        shape.strokeColor = colour
    else:
        shape.fillColor = colour
    # ReportLab checks the names of public attributes only.
    shape._role = role
    return shape


@cache
def _colour_of(role: str) -> Color:
    return HexColor(LIGHT[role])


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


def draw_dot(x: float, y: float, radius: float, role: str) -> Shape:
    """A filled disc."""
    return with_role(Circle(x, y, radius, strokeColor=None), role)


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
        return draw_dot(x + side / 2, y + size * 0.32, size * 0.36, entry.role)
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


_IDENTITY = (1, 0, 0, 1, 0, 0)


def render_svg(picture: Picture, number: int | str, css_prefix: str = "part-") -> SafeString:
    """The picture as one inline SVG element.

    `number` makes the ids unique on a page: the caller counts. Raises TypeError for a shape it does not know.
    """
    title_id, description_id = f"chart-{number}-title", f"chart-{number}-desc"
    drawing = picture.drawing
    width, height = _number(drawing.width), _number(drawing.height)
    opening = {
        "xmlns": "http://www.w3.org/2000/svg",
        "role": "img",
        "aria-labelledby": f"{title_id} {description_id}",
        "viewBox": f"0 0 {width} {height}",
        "width": width,
        "height": height,
    }
    inside = [
        _element("title", {"id": title_id}, picture.title),
        _element("desc", {"id": description_id}, picture.description),
        *_write_shapes(drawing.contents, float(drawing.height), css_prefix),
    ]
    attributes = _attributes(opening)
    return mark_safe(f"<svg{attributes}>{''.join(inside)}</svg>")  # noqa: S308 - escaped piece by piece


def _write_shapes(shapes: list[Shape], height: float, css_prefix: str) -> Iterator[str]:
    for shape in shapes:
        if isinstance(shape, Group):
            if tuple(shape.transform) != _IDENTITY:
                raise TypeError("a group that is moved or turned cannot be written")
            yield from _write_shapes(shape.contents, height, css_prefix)
        elif isinstance(shape, String):
            yield _write_text(shape, height)
        else:
            name, places = _place(shape, height)
            yield _element(name, places | _paint(shape, css_prefix))


def _place(shape: Shape, height: float) -> tuple[str, dict[str, str]]:
    """Element name and place; a drawing's y goes up, a page's goes down."""
    if isinstance(shape, Rect):
        top = height - shape.y - shape.height
        values = {"x": shape.x, "y": top, "width": shape.width, "height": shape.height}
        return "rect", _numbers(values)
    if isinstance(shape, Line):
        values = {"x1": shape.x1, "y1": height - shape.y1, "x2": shape.x2, "y2": height - shape.y2}
        return "line", _numbers(values)
    if isinstance(shape, Circle):
        return "circle", _numbers({"cx": shape.cx, "cy": height - shape.cy, "r": shape.r})
    if isinstance(shape, PolyLine | Polygon):
        pairs = zip(shape.points[::2], shape.points[1::2], strict=True)
        points = " ".join(f"{_number(x)},{_number(height - y)}" for x, y in pairs)
        return ("polygon" if isinstance(shape, Polygon) else "polyline"), {"points": points}
    raise TypeError(f"no way to write a {type(shape).__name__} as SVG")


def _paint(shape: Shape, css_prefix: str) -> dict[str, str]:
    role = getattr(shape, "_role", "")
    fill, stroke = getattr(shape, "fillColor", None), getattr(shape, "strokeColor", None)
    # A line is painted by its stroke, an area by its fill: two kinds of class keep the style sheet plain.
    kind = "line-" if stroke is not None and fill is None else ""
    painted = {"class": f"{css_prefix}{kind}{role}"} if role else {}
    painted["fill"] = _colour(fill)
    if stroke is not None:
        painted |= {"stroke": _colour(stroke), "stroke-width": _number(shape.strokeWidth)}
        dashes = getattr(shape, "strokeDashArray", None)
        if dashes:
            painted["stroke-dasharray"] = " ".join(_number(dash) for dash in dashes)
    return painted


def _write_text(shape: String, height: float) -> str:
    values = _numbers({"x": shape.x, "y": height - shape.y, "font-size": shape.fontSize})
    if shape.textAnchor != "start":
        values["text-anchor"] = str(shape.textAnchor)
    if shape.fontName == BOLD:
        values["font-weight"] = "bold"
    return _element("text", values | {"fill": "currentColor"}, shape.text)


@cache
def _colour(colour: Any) -> str:
    return "none" if colour is None else "#" + str(colour.hexval())[2:]


def _numbers(values: dict[str, float]) -> dict[str, str]:
    return {name: _number(value) for name, value in values.items()}


def _number(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _element(name: str, attributes: dict[str, str], text: str | None = None) -> str:
    opened = f"<{name}{_attributes(attributes)}"
    return f"{opened}/>" if text is None else f"{opened}>{escape(text)}</{name}>"


def _attributes(values: dict[str, str]) -> str:
    return "".join(f' {name}="{escape(value)}"' for name, value in values.items())
