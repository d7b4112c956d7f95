"""The heat of a kiln over its hours: the curve of a schedule, and what is set by hand on the way."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from math import ceil, floor

from reportlab.graphics.shapes import Drawing, PolyLine, Shape

from studio.kit import chart_pen
from studio.kit.fonts import REGULAR, measure
from studio.kit.printing import NOTHING, SPACE, print_celsius, print_minutes
from studio.kit.units import MINUTES_PER_HOUR

_C_STEPS = (50, 100, 200, 250, 500)
_HOUR_STEPS = (1, 2, 3, 4, 6, 12, 24, 48)

Corner = tuple[int, int]
"""Minutes from the kiln going on, and degrees Celsius."""
Measured = tuple[float, float]
"""The same of a reading; before the kiln went on below zero."""
NEAR_MINUTES = 5


@dataclass(frozen=True, slots=True)
class _Frame(chart_pen.Plot):
    """Where minutes and degrees fall on the drawing, and how far both scales go."""

    last_minute: int
    first_minute: int = 0

    def x(self, minute: float) -> float:
        share = (minute - self.first_minute) / (self.last_minute - self.first_minute)
        return self.left + (self.right - self.left) * share

    def lay(self, corners: Sequence[Measured]) -> list[float]:
        return [place for minute, degrees in corners for place in (self.x(minute), self.y(max(0, degrees)))]


def curve_chart(
    corners: Sequence[Corner],
    set_points: Sequence[Corner] = (),
    width: float = chart_pen.WIDE,
    title: str = "The heat of the kiln",
    measured: Sequence[Measured] = (),
) -> chart_pen.Picture:
    """The corners of a schedule's curve in order of time; `set_points` are what the knob is turned to, and when.

    `measured` is drawn over it as the kiln really went; then there may be no schedule. Raises ValueError for a curve of
    less than two corners.
    """
    if len(corners) < 2 and len(measured) < 2:
        raise ValueError("a curve has two corners at least")
    drawn = _Lines(tuple(corners), tuple(set_points), tuple(measured))
    headers, rows = _list_rows(drawn)
    said = " ".join(_describe(drawn))
    return chart_pen.Picture(partial(_draw_chart, drawn), title, said, headers, rows, width)


@dataclass(frozen=True, slots=True)
class _Lines:
    """All that is drawn: the plan, what is set by hand, and the kiln as it went."""

    corners: tuple[Corner, ...]
    set_points: tuple[Corner, ...]
    measured: tuple[Measured, ...]

    @property
    def last_minute(self) -> int:
        lasts = [ends[-1][0] for ends in (self.corners, self.measured) if ends]
        return max(1, ceil(max(lasts)))

    @property
    def first_minute(self) -> int:
        return min(0, floor(self.measured[0][0])) if self.measured else 0

    @property
    def highest_c(self) -> int:
        return ceil(max(c for _, c in (*self.corners, *self.set_points, *self.measured)))


def _describe(drawn: _Lines) -> Iterator[str]:
    if drawn.corners:
        first, last = drawn.corners[0], drawn.corners[-1]
        top_c = max(degrees for _, degrees in drawn.corners)
        yield (
            f"From {print_celsius(first[1])} in {print_minutes(last[0])} to {print_celsius(last[1])}, "
            f"at most {print_celsius(top_c)}."
        )
    if drawn.set_points:
        many = len(drawn.set_points)
        yield f"Set by hand {many} {'time' if many == 1 else 'times'}."
    if drawn.measured:
        top_c = round(max(degrees for _, degrees in drawn.measured))
        yield f"As it went: at most {print_celsius(top_c)}, over {print_minutes(round(drawn.measured[-1][0]))}."


def _list_rows(drawn: _Lines) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    """The corners of the plan, and what the kiln was at then; without a plan, every hour of the kiln."""
    if not drawn.measured:
        return ("After", "Kiln at"), tuple((_after(minute), print_celsius(c)) for minute, c in drawn.corners)
    if not drawn.corners:
        hours = range(0, drawn.last_minute + 1, MINUTES_PER_HOUR)
        return ("After", "Kiln at"), tuple((_after(minute), _measured_at(drawn, minute)) for minute in hours)
    return ("After", "Planned", "Measured"), tuple(
        (_after(minute), print_celsius(c), _measured_at(drawn, minute)) for minute, c in drawn.corners
    )


def _after(minute: int) -> str:
    return print_minutes(minute) if minute else "kiln on"


def _measured_at(drawn: _Lines, minute: int) -> str:
    """The reading next to a minute; nothing where the log is over, or had not begun."""
    nearest = min(drawn.measured, key=lambda one: abs(one[0] - minute))
    return print_celsius(round(nearest[1])) if abs(nearest[0] - minute) <= NEAR_MINUTES else NOTHING


def _draw_chart(drawn: _Lines, width: float, text_size: float) -> Drawing:
    key, key_height = chart_pen.draw_key(_list_key(drawn), width, text_size)
    highest = drawn.highest_c
    step_c = next((step for step in _C_STEPS if highest <= 5 * step), _C_STEPS[-1])
    top_c = max(step_c, -(-highest // step_c) * step_c)
    margin = measure(print_celsius(top_c), REGULAR, text_size) + text_size * 0.6
    bottom = key_height + text_size * 2.1
    plot_height = max(text_size * 9, min(width * 0.3, text_size * 15))
    frame = _Frame(
        margin,
        width - text_size * 0.6,
        bottom,
        bottom + plot_height,
        0,
        top_c,
        drawn.last_minute,
        drawn.first_minute,
    )
    marks = [(frame.y(degrees), print_celsius(degrees)) for degrees in range(0, top_c + 1, step_c)]
    shapes = chart_pen.draw_scale(marks, margin, width, text_size)
    shapes += _draw_hours(frame, key_height + text_size * 0.6, text_size)
    if drawn.set_points:
        shapes += _draw_stairs(frame, drawn.set_points)
    for line, role in ((drawn.corners, "kiln"), (drawn.measured, "pieces")):
        if line:
            curve = PolyLine(frame.lay(line), strokeWidth=text_size / (6 if role == "kiln" else 9))
            shapes.append(chart_pen.with_role(curve, role, stroke=True))
    return Drawing(width, frame.top + text_size * 0.8, *shapes, *key)


def _list_key(drawn: _Lines) -> list[chart_pen.KeyEntry]:
    entries = []
    if drawn.corners:
        entries.append(chart_pen.KeyEntry("kiln", "as planned" if drawn.measured else "the kiln", "line"))
    if drawn.set_points:
        entries.append(chart_pen.KeyEntry("quiet", "what it is set to", "dashes"))
    if drawn.measured:
        entries.append(chart_pen.KeyEntry("pieces", "as it went", "line"))
    return entries


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
