"""The heat of a kiln over its hours: the curve of a schedule, and what is set by hand on the way."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from reportlab.graphics.shapes import Drawing, PolyLine, Shape

from studio.kit import chart_pen
from studio.kit.fonts import REGULAR, measure
from studio.kit.printing import SPACE, print_celsius, print_minutes
from studio.kit.units import MINUTES_PER_HOUR

_C_STEPS = (50, 100, 200, 250, 500)
_HOUR_STEPS = (1, 2, 3, 4, 6, 12, 24, 48)

Corner = tuple[int, int]
"""Minutes from the kiln going on, and degrees Celsius."""


@dataclass(frozen=True, slots=True)
class _Frame(chart_pen.Plot):
    """Where minutes and degrees fall on the drawing, and how far both scales go."""

    last_minute: int

    def x(self, minute: int) -> float:
        return self.left + (self.right - self.left) * minute / self.last_minute

    def lay(self, corners: Sequence[Corner]) -> list[float]:
        return [place for minute, degrees in corners for place in (self.x(minute), self.y(degrees))]


def curve_chart(
    corners: Sequence[Corner],
    set_points: Sequence[Corner] = (),
    width: float = chart_pen.WIDE,
    title: str = "The heat of the kiln",
) -> chart_pen.Picture:
    """The corners of a schedule's curve in order of time; `set_points` are what the knob is turned to, and when.

    Raises ValueError for a curve of less than two corners.
    """
    if len(corners) < 2:
        raise ValueError("a curve has two corners at least")
    draw = partial(_draw_chart, tuple(corners), tuple(set_points))
    rows = tuple(
        (print_minutes(minute) if minute else "kiln on", print_celsius(degrees))
        for minute, degrees in corners
    )
    top_c, last = max(degrees for _, degrees in corners), corners[-1]
    said = (
        f"From {print_celsius(corners[0][1])} in {print_minutes(last[0])} to {print_celsius(last[1])}, "
        f"at most {print_celsius(top_c)}."
    )
    if set_points:
        said += f" Set by hand {len(set_points)} {'time' if len(set_points) == 1 else 'times'}."
    return chart_pen.Picture(draw, title, said, ("After", "Kiln at"), rows, width)


def _draw_chart(
    corners: Sequence[Corner], set_points: Sequence[Corner], width: float, text_size: float
) -> Drawing:
    entries = [chart_pen.KeyEntry("kiln", "the kiln", "line")]
    if set_points:
        entries.append(chart_pen.KeyEntry("quiet", "what it is set to", "dashes"))
    key, key_height = chart_pen.draw_key(entries, width, text_size)
    last, highest = max(1, corners[-1][0]), max(degrees for _, degrees in (*corners, *set_points))
    step_c = next((step for step in _C_STEPS if highest <= 5 * step), _C_STEPS[-1])
    top_c = max(step_c, -(-highest // step_c) * step_c)
    margin = measure(print_celsius(top_c), REGULAR, text_size) + text_size * 0.6
    bottom = key_height + text_size * 2.1
    plot_height = max(text_size * 9, min(width * 0.3, text_size * 15))
    frame = _Frame(margin, width - text_size * 0.6, bottom, bottom + plot_height, 0, top_c, last)
    marks = [(frame.y(degrees), print_celsius(degrees)) for degrees in range(0, top_c + 1, step_c)]
    shapes = chart_pen.draw_scale(marks, margin, width, text_size)
    shapes += _draw_hours(frame, key_height + text_size * 0.6, text_size)
    if set_points:
        shapes += _draw_stairs(frame, set_points)
    curve = PolyLine(frame.lay(corners), strokeWidth=text_size / 6)
    shapes.append(chart_pen.with_role(curve, "kiln", stroke=True))
    return Drawing(width, frame.top + text_size * 0.8, *shapes, *key)


def _draw_hours(frame: _Frame, base: float, text_size: float) -> list[Shape]:
    """Marks at whole hours, as many as have room for their words."""
    hours = frame.last_minute // MINUTES_PER_HOUR
    room = int((frame.right - frame.left) / (measure(f"{hours}{SPACE}h", REGULAR, text_size) * 2)) or 1
    step = next((step for step in _HOUR_STEPS if hours <= step * room), _HOUR_STEPS[-1])
    shapes: list[Shape] = []
    for hour in range(0, hours + 1, step):
        x = frame.x(hour * MINUTES_PER_HOUR)
        shapes.append(chart_pen.draw_line(x, frame.bottom, x, frame.bottom - text_size * 0.35, "quiet"))
        half = measure(f"{hour}{SPACE}h", REGULAR, text_size) * 0.52
        middle = min(x, frame.right + text_size * 0.6 - half)
        shapes.append(chart_pen.draw_text(middle, base, f"{hour}{SPACE}h", text_size, "middle"))
    return shapes


def _draw_stairs(frame: _Frame, set_points: Sequence[Corner]) -> list[Shape]:
    """What the knob stands at: level from one turn to the next."""
    ends = [*(minute for minute, _ in set_points[1:]), frame.last_minute]
    shapes: list[Shape] = []
    before = 0
    for (minute, degrees), end in zip(set_points, ends, strict=True):
        x, y = frame.x(minute), frame.y(degrees)
        if before:
            shapes.append(chart_pen.draw_line(x, frame.y(before), x, y, "quiet", dashed=True))
        shapes.append(chart_pen.draw_line(x, y, frame.x(end), y, "quiet", dashed=True))
        before = degrees
    return shapes
