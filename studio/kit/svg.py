"""A chart as SVG for a page: plain attributes, a real title and description, colours left to the page.

The page's policy allows no style attributes, so a colour is a class of the shape's role. The same colour
stands beside it as an attribute, which any style sheet overrules, for a page shown without one.
"""

from collections.abc import Iterator
from typing import Any

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe
from reportlab.graphics.shapes import Circle, Group, Line, Polygon, PolyLine, Rect, Shape, String

from studio.kit.chart_pen import Picture
from studio.kit.fonts import BOLD

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
