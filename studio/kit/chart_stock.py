"""Stock to date, what may be left of it week by week, the level at which to order, and what is on the road."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial

from reportlab.graphics.shapes import Drawing, Polygon, PolyLine, Shape

from studio.kit import chart_pen
from studio.kit.chart_line import choose_step
from studio.kit.fonts import REGULAR, measure
from studio.kit.printing import print_date

Print = Callable[[int], str]
Point = tuple[date, int]
Spread = tuple[date, int, int, int]
"""A day, and what is left on it at least, in the middle and at most, of eight in ten."""


@dataclass(frozen=True, slots=True)
class Stock:
    """All that is drawn; `held` ends and `ahead` begins on the same day, which is today."""

    held: tuple[Point, ...]
    ahead: tuple[Spread, ...]
    level: int
    comes: tuple[Point, ...]
    print: Print

    @property
    def highest(self) -> int:
        return max([*(one for _, one in self.held), *(one[3] for one in self.ahead), self.level, 1])


@dataclass(frozen=True, slots=True)
class _Frame(chart_pen.Plot):
    first: int
    last: int

    def x(self, day: date) -> float:
        return self.left + (self.right - self.left) * (day.toordinal() - self.first) / (
            self.last - self.first
        )


def stock_chart(
    held: Sequence[Point],
    ahead: Sequence[Spread],
    level: int,
    print_quantity: Print,
    title: str,
    description: str,
    comes: Sequence[Point] = (),
    print_in_column: Print | None = None,
) -> chart_pen.Picture:
    """`held` and `ahead` are oldest first, one point each at least, in small units; `comes` is (day, how much).

    `print_in_column` is for the same in figures, where one stands under the other.
    Raises ValueError for stock without a time to it.
    """
    if not held or not ahead or held[0][0] >= ahead[-1][0]:
        raise ValueError("stock is drawn from a day to a later one")
    stock = Stock(tuple(held), tuple(ahead), level, tuple(comes), print_quantity)
    tell = print_in_column or print_quantity
    rows = [(print_date(day), tell(one), "", "") for day, one in stock.held]
    rows += [
        (print_date(day), tell(middle), tell(low), tell(high)) for day, low, middle, high in stock.ahead[1:]
    ]
    headers = ("On", "There", "8 in 10: from", "to")
    return chart_pen.Picture(partial(_draw, stock), title, description, headers, tuple(rows))


def _draw(stock: Stock, width: float, text_size: float) -> Drawing:
    key, key_height = chart_pen.draw_key(_key(stock), width, text_size)
    step = choose_step(stock.highest, 4)
    top = -(-stock.highest // step) * step
    margin = max(measure(stock.print(mark), REGULAR, text_size) for mark in range(0, top + 1, step))
    bottom = key_height + text_size * 2.1
    height = max(text_size * 8, min(width * 0.3, text_size * 12))
    ends = stock.held[0][0].toordinal(), stock.ahead[-1][0].toordinal()
    left = margin + text_size * 0.6
    frame = _Frame(left, width - text_size * 0.6, bottom, bottom + height, 0, top, *ends)
    shapes: list[Shape] = _draw_ahead(stock, frame, text_size)
    marks = [(frame.y(mark), stock.print(mark)) for mark in range(0, top + 1, step)]
    shapes += chart_pen.draw_scale(marks, left, width, text_size)
    y = frame.y(stock.level)
    shapes.append(chart_pen.draw_line(frame.left, y, frame.right, y, "lost", dashed=True))
    shapes += _draw_middle(stock, frame)
    laid = [place for day, one in stock.held for place in (frame.x(day), frame.y(one))]
    if len(stock.held) > 1:
        shapes.append(chart_pen.with_role(PolyLine(laid, strokeWidth=text_size / 6), "pieces", stroke=True))
    for day, _ in stock.comes:
        if stock.ahead[0][0] <= day <= stock.ahead[-1][0]:
            shapes.append(chart_pen.draw_dot(frame.x(day), frame.bottom, text_size * 0.36, "kiln"))
    shapes += _name_days(stock, frame, key_height + text_size * 0.6, text_size)
    return Drawing(width, frame.top + text_size * 0.8, *shapes, *key)


def _key(stock: Stock) -> list[chart_pen.KeyEntry]:
    entries = [
        chart_pen.KeyEntry("pieces", "there to date", "line"),
        chart_pen.KeyEntry("quiet", "what may be left, middle", "dashes"),
        chart_pen.KeyEntry("back", "8 in 10"),
        chart_pen.KeyEntry("lost", f"order at {stock.print(stock.level)}", "dashes"),
    ]
    comes = ", ".join(f"{stock.print(one)} on {print_date(day)}" for day, one in stock.comes)
    return [*entries, chart_pen.KeyEntry("kiln", f"comes: {comes}", "dot")] if comes else entries


def _draw_ahead(stock: Stock, frame: _Frame, text_size: float) -> list[Shape]:
    """The band of eight in ten, below everything else."""
    there = [(frame.x(day), frame.y(low)) for day, low, _, _ in stock.ahead]
    back = [(frame.x(day), frame.y(high)) for day, _, _, high in reversed(stock.ahead)]
    laid = [place for point in (*there, *back) for place in point]
    return [chart_pen.with_role(Polygon(laid, strokeColor=None, strokeWidth=0), "back")]


def _draw_middle(stock: Stock, frame: _Frame) -> list[Shape]:
    places = [(frame.x(day), frame.y(middle)) for day, _, middle, _ in stock.ahead]
    return [
        chart_pen.draw_line(*start, *end, "quiet", dashed=True)
        for start, end in zip(places, places[1:], strict=False)
    ]


def _name_days(stock: Stock, frame: _Frame, base: float, text_size: float) -> list[Shape]:
    """The first day and the last at their ends, and today below its line where there is room between."""
    first, today, last = stock.held[0][0], stock.ahead[0][0], stock.ahead[-1][0]
    x = frame.x(today)
    shapes: list[Shape] = [chart_pen.draw_line(x, frame.bottom, x, frame.top, "rule")]
    start, end = print_date(first), print_date(last)
    wide = measure(end, REGULAR, text_size) * 1.06
    shapes.append(chart_pen.draw_text(frame.right, base, end, text_size, "end"))
    room = measure("today", REGULAR, text_size) * 0.53
    if x + room < frame.right - wide:
        shapes.append(chart_pen.draw_text(x, base, "today", text_size, "middle"))
    if frame.left + measure(start, REGULAR, text_size) * 1.06 < x - room and first < today:
        shapes.append(chart_pen.draw_text(frame.left, base, start, text_size))
    return shapes
