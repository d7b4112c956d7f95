"""One figure over another as a line: with what it is now, and a level that it is held against."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from reportlab.graphics.shapes import Drawing, PolyLine, Shape

from studio.kit import chart_pen
from studio.kit.fonts import REGULAR, measure

Print = Callable[[int], str]
_GOOD_STEPS = (1, 2, 5)


@dataclass(frozen=True, slots=True)
class Scale:
    """What one side of the chart counts: its heading, and how a whole number of it is printed."""

    label: str
    print: Print


@dataclass(frozen=True, slots=True)
class _Frame(chart_pen.Plot):
    """Where both figures fall on the drawing; the flat scale goes from `first` to `last`."""

    first: int
    last: int

    def x(self, value: int) -> float:
        return self.left + (self.right - self.left) * (value - self.first) / (self.last - self.first)


def line_chart(
    points: Sequence[tuple[int, int]],
    across: Scale,
    upright: Scale,
    title: str,
    description: str,
    now: int | None = None,
    level: tuple[int, str] | None = None,
    width: float = chart_pen.WIDE,
) -> chart_pen.Picture:
    """`points` in the order of the flat scale; `now` is a place on it, `level` a height with its name.

    Raises ValueError for less than two points.
    """
    if len(points) < 2:
        raise ValueError("a line has two points at least")
    draw = partial(_draw, tuple(points), across, upright, now, level)
    rows = tuple((across.print(x), upright.print(y)) for x, y in points)
    return chart_pen.Picture(draw, title, description, (across.label, upright.label), rows, width)


def choose_step(span: int, most: int) -> int:
    """The smallest of 1, 2, 5, 10, 20 ... of which `most` reach over a span of whole numbers."""
    power = 1
    while True:
        for step in _GOOD_STEPS:
            if step * power * most >= span:
                return step * power
        power *= 10


def _draw(
    points: Sequence[tuple[int, int]],
    across: Scale,
    upright: Scale,
    now: int | None,
    level: tuple[int, str] | None,
    width: float,
    text_size: float,
) -> Drawing:
    entries = [chart_pen.KeyEntry("pieces", upright.label, "line")]
    entries += [chart_pen.KeyEntry("lost", level[1], "dashes")] if level else []
    entries += [chart_pen.KeyEntry("kiln", f"now, {across.print(now)}", "dot")] if now is not None else []
    key, key_height = chart_pen.draw_key(entries, width, text_size)
    highest = max([y for _, y in points] + ([level[0]] if level else []))
    step = choose_step(max(highest, 1), 5)
    top = max(step, -(-highest // step) * step)
    margin = measure(upright.print(top), REGULAR, text_size) + text_size * 0.6
    bottom = key_height + text_size * 2.1
    height = max(text_size * 9, min(width * 0.3, text_size * 15))
    ends = points[0][0], points[-1][0]
    frame = _Frame(margin, width - text_size * 0.6, bottom, bottom + height, 0, top, *ends)
    marks = [(frame.y(value), upright.print(value)) for value in range(0, top + 1, step)]
    shapes = chart_pen.draw_scale(marks, margin, width, text_size)
    shapes += _draw_flat(frame, across, key_height + text_size * 0.6, text_size)
    if level:
        y = frame.y(level[0])
        shapes.append(chart_pen.draw_line(frame.left, y, frame.right, y, "lost", dashed=True))
    laid = [place for x, y in points for place in (frame.x(x), frame.y(y))]
    shapes.append(chart_pen.with_role(PolyLine(laid, strokeWidth=text_size / 6), "pieces", stroke=True))
    here = next((y for x, y in points if x == now), None)
    if now is not None and here is not None:
        shapes.append(chart_pen.draw_dot(frame.x(now), frame.y(here), text_size * 0.36, "kiln"))
    return Drawing(width, frame.top + text_size * 0.8, *shapes, *key)


def _draw_flat(frame: _Frame, across: Scale, base: float, text_size: float) -> list[Shape]:
    """Marks of the flat scale, as many as have room for their words."""
    widest = measure(across.print(frame.last), REGULAR, text_size) * 1.04
    room = max(1, int((frame.right - frame.left) / (widest * 1.6)))
    step = choose_step(max(frame.last - frame.first, 1), room)
    shapes: list[Shape] = []
    for value in range(-(-frame.first // step) * step, frame.last + 1, step):
        x = frame.x(value)
        shapes.append(chart_pen.draw_line(x, frame.bottom, x, frame.bottom - text_size * 0.35, "quiet"))
        middle = max(min(x, frame.right + text_size * 0.6 - widest / 2), widest / 2)
        shapes.append(chart_pen.draw_text(middle, base, across.print(value), text_size, "middle"))
    return shapes
