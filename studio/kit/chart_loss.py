"""The loss of each cast on a line, so that one cast that lost more than usual stands out at once."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from reportlab.graphics.shapes import Circle, Drawing, PolyLine, Shape

from studio.kit import chart_pen
from studio.kit.fonts import REGULAR, measure
from studio.kit.printing import print_percent

_STEPS_PCT100 = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000)
_MOST_NAMED = 6
_NOTHING = "No cast has been closed yet."

Box = tuple[float, float, float, float]
Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class LossPoint:
    """One cast: its name, its loss in hundredths of a per cent of the charge, and a word on why."""

    label: str
    loss_pct100: int
    note: str = ""

    @property
    def text(self) -> str:
        return f"{self.label}: {print_percent(self.loss_pct100)}"


@dataclass(frozen=True, slots=True)
class _Chart:
    points: tuple[LossPoint, ...]
    mean_pct100: int | None
    usual_pct100: int | None
    least_pct100: int | None = None

    def is_over(self, point: LossPoint) -> bool:
        return self.usual_pct100 is not None and point.loss_pct100 > self.usual_pct100

    def is_under(self, point: LossPoint) -> bool:
        return self.least_pct100 is not None and point.loss_pct100 < self.least_pct100

    @property
    def draws_least(self) -> bool:
        """A line below nothing would only make room for what cannot be, until something lies below it."""
        least = self.least_pct100
        return least is not None and (least > 0 or any(self.is_under(point) for point in self.points))

    def is_odd(self, point: LossPoint) -> bool:
        return self.is_over(point) or self.is_under(point)


def loss_chart(
    points: Sequence[LossPoint],
    mean_pct100: int | None = None,
    usual_pct100: int | None = None,
    width: float = chart_pen.WIDE,
    title: str = "Loss of each cast",
    least_pct100: int | None = None,
) -> chart_pen.Picture:
    """Loss per cast, oldest first, with the mean and what is usual at most, and at least where that is above nothing,
    as lines; all in hundredths of a per cent.

    The last cast is named under the chart, casts above the usual beside their points as far as names fit.
    """
    chart = _Chart(tuple(points), mean_pct100, usual_pct100, least_pct100)
    rows = tuple((point.label, print_percent(point.loss_pct100), _tell(chart, point)) for point in points)
    headers = ("Cast", "Loss", "Remark")
    return chart_pen.Picture(partial(_draw_chart, chart), title, _describe(chart), headers, rows, width)


def _tell(chart: _Chart, point: LossPoint) -> str:
    over = "more than usual" if chart.is_over(point) else "less than usual" if chart.is_under(point) else ""
    return ", ".join(word for word in (over, point.note) if word)


def _describe(chart: _Chart) -> str:
    if not chart.points:
        return _NOTHING
    count = len(chart.points)
    casts = "1 cast" if count == 1 else f"{count} casts"
    said = [f"Loss of {casts}, oldest first; last {chart.points[-1].text}."]
    if chart.mean_pct100 is not None:
        said.append(f"Mean {print_percent(chart.mean_pct100)}.")
    if chart.usual_pct100 is not None:
        over = [point.text for point in chart.points if chart.is_over(point)]
        named = f"{len(over)} above it" + (f", last {over[-1]}" if over else "")
        said.append(f"Usual at most {print_percent(chart.usual_pct100)}: {named}.")
    under = [point.text for point in chart.points if chart.is_under(point)]
    if under:
        said.append(
            f"Usual at least {print_percent(chart.least_pct100)}: {len(under)} below it, last {under[-1]}."
        )
    return " ".join(said)


def _draw_chart(chart: _Chart, width: float, text_size: float) -> Drawing:
    if not chart.points:
        return Drawing(width, text_size * 2, chart_pen.draw_text(0, text_size * 0.6, _NOTHING, text_size))
    key, key_height = chart_pen.draw_key(_key_entries(chart), width, text_size)
    low, high, step = _find_scale(chart)
    ticks = range(low, high + 1, step)
    margin = max(measure(print_percent(tick), REGULAR, text_size) for tick in ticks) + text_size * 0.6
    axis_base = key_height + text_size * 0.5
    bottom = axis_base + text_size * 1.6
    plot_height = max(text_size * 8, min(width * 0.28, text_size * 14))
    inset = text_size * 0.6
    plot = chart_pen.Plot(margin + inset, width - inset, bottom, bottom + plot_height, low, high)
    # Room above the plot for the name of a point that is the highest.
    height = plot.top + text_size * 1.9
    marks = [(plot.y(tick), print_percent(tick)) for tick in ticks]
    shapes = chart_pen.draw_scale(marks, margin, width, text_size)
    shapes += _draw_levels(chart, plot, margin, width)
    places = _place(chart.points, plot)
    shapes += _draw_points(chart, places, text_size)
    shapes += _name_points(chart, places, (margin, bottom, width, height), text_size)
    shapes += _name_ends(chart, places, axis_base, (margin, width), text_size)
    return Drawing(width, height, *shapes, *key)


def _place(points: Sequence[LossPoint], plot: chart_pen.Plot) -> list[Place]:
    if len(points) == 1:
        return [((plot.left + plot.right) / 2, plot.y(points[0].loss_pct100))]
    step = (plot.right - plot.left) / (len(points) - 1)
    return [(plot.left + step * nth, plot.y(point.loss_pct100)) for nth, point in enumerate(points)]


def _key_entries(chart: _Chart) -> list[chart_pen.KeyEntry]:
    entries = [chart_pen.KeyEntry("pieces", "loss of a cast", "dot")]
    if chart.mean_pct100 is not None:
        entries.append(chart_pen.KeyEntry("quiet", f"mean {print_percent(chart.mean_pct100)}", "line"))
    if chart.usual_pct100 is not None:
        over = sum(chart.is_over(point) for point in chart.points)
        usual = f"usual at most {print_percent(chart.usual_pct100)}, {over} above it"
        entries.append(chart_pen.KeyEntry("lost", usual, "dashes"))
    if chart.draws_least:
        under = sum(chart.is_under(point) for point in chart.points)
        least = f"usual at least {print_percent(chart.least_pct100)}, {under} below it"
        entries.append(chart_pen.KeyEntry("lost", least, "dashes"))
    return entries


def _find_scale(chart: _Chart) -> tuple[int, int, int]:
    """Lowest and highest value of the scale and its step: whole steps, from zero or below it."""
    values = [point.loss_pct100 for point in chart.points]
    values += [level for level, _ in _levels(chart) if level is not None]
    lowest, highest = min(0, *values), max(20, *values)
    step = next((step for step in _STEPS_PCT100 if (highest - lowest) <= 4 * step), highest - lowest)
    return lowest // step * step, -(-highest // step) * step, step


def _draw_levels(chart: _Chart, plot: chart_pen.Plot, left: float, right: float) -> list[Shape]:
    return [
        chart_pen.draw_line(left, plot.y(level), right, plot.y(level), role, dashed=role == "lost")
        for level, role in _levels(chart)
        if level is not None
    ]


def _levels(chart: _Chart) -> tuple[tuple[int | None, str], ...]:
    least = chart.least_pct100 if chart.draws_least else None
    return (chart.mean_pct100, "quiet"), (chart.usual_pct100, "lost"), (least, "lost")


def _draw_points(chart: _Chart, places: Sequence[Place], text_size: float) -> list[Shape]:
    shapes: list[Shape] = []
    radius = text_size * 0.24
    if len(places) > 1:
        flat = [number for place in places for number in place]
        shapes.append(chart_pen.with_role(PolyLine(flat, strokeWidth=text_size / 7), "pieces", stroke=True))
        radius = min(radius, (places[1][0] - places[0][0]) * 0.35)
    for point, (x, y) in zip(chart.points, places, strict=True):
        odd = chart.is_odd(point)
        size = max(radius * 1.8, text_size * 0.25) if odd else radius
        shapes.append(chart_pen.with_role(Circle(x, y, size, strokeColor=None), "lost" if odd else "pieces"))
    return shapes


def _name_points(chart: _Chart, places: Sequence[Place], frame: Box, text_size: float) -> list[Shape]:
    """Names for the casts beyond the usual, worst first, where nothing is written over."""
    over = [nth for nth, point in enumerate(chart.points) if chart.is_odd(point)]
    taken: list[Box] = []
    shapes: list[Shape] = []
    for nth in sorted(over, key=lambda nth: -chart.points[nth].loss_pct100)[:_MOST_NAMED]:
        point = chart.points[nth]
        for text in ([f"{point.text}, {point.note}"] if point.note else []) + [point.text]:
            box = _find_room(text, nth, places, frame, taken, text_size)
            if box:
                taken.append(box)
                shapes.append(chart_pen.draw_text(box[0], box[1] + text_size * 0.3, text, text_size))
                break
    return shapes


def _find_room(
    text: str, nth: int, places: Sequence[Place], frame: Box, taken: Sequence[Box], text_size: float
) -> Box | None:
    """The nearest free place for a name beside its point, or nothing."""
    x, y = places[nth]
    wide, high, away = measure(text, REGULAR, text_size) * 1.03, text_size * 1.25, text_size * 0.5
    for left in (x - wide / 2, x - wide, x, x - wide - away, x + away):
        for low in (y + away, y - away - high, y + away + high, y - away - 2 * high):
            inner = min(max(left, frame[0]), frame[2] - wide)
            box = (inner, low, inner + wide, low + high)
            inside = inner >= frame[0] and low >= frame[1] and box[3] <= frame[3]
            if not inside or any(_overlap(box, other) for other in taken):
                continue
            near = [ends for ends in zip(places, places[1:], strict=False) if _is_beside(box, *ends)]
            if not any(_runs_through(box, *ends) for ends in near):
                return box
    return None


def _overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _is_beside(box: Box, start: Place, end: Place) -> bool:
    return end[0] >= box[0] and start[0] <= box[2]


def _runs_through(box: Box, start: Place, end: Place) -> bool:
    """Whether the line from point to point runs through the box."""
    left, right = max(box[0], start[0]), min(box[2], end[0])
    if left > right:
        return False
    slope = (end[1] - start[1]) / (end[0] - start[0])
    heights = (start[1] + slope * (left - start[0]), start[1] + slope * (right - start[0]))
    return min(heights) < box[3] and max(heights) > box[1]


def _name_ends(
    chart: _Chart, places: Sequence[Place], base: float, ends: tuple[float, float], text_size: float
) -> list[Shape]:
    """Under the chart: the first cast's name, and the last cast with its loss, which is the one asked for."""
    first, last = chart.points[0].label, chart.points[-1].text
    wide_first, wide_last = measure(first, REGULAR, text_size), measure(last, REGULAR, text_size)
    room = ends[1] - ends[0]
    if wide_last > room:
        last = print_percent(chart.points[-1].loss_pct100)
        wide_last = measure(last, REGULAR, text_size)
    if len(places) == 1:
        return [chart_pen.draw_text((ends[0] + ends[1]) / 2, base, last, text_size, "middle")]
    shapes = [chart_pen.draw_text(ends[1], base, last, text_size, "end")]
    if wide_first + wide_last + text_size * 2 <= room:
        shapes.append(chart_pen.draw_text(ends[0], base, first, text_size))
    return shapes
