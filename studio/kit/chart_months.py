"""A weight at the end of each month: how a tin fills and is emptied."""

from collections.abc import Sequence
from datetime import date
from functools import partial

from reportlab.graphics.shapes import Drawing

from studio.kit import chart_pen
from studio.kit.fonts import REGULAR, measure
from studio.kit.measures import MASS
from studio.kit.numerals import SPACE, print_decimal
from studio.kit.printing import print_mass
from studio.kit.units import MG_PER_G

_FIRST_STEP_MG = MG_PER_G // 10
_STEPS = (1, 2, 5)
_MOST_MARKS = 4

MonthEnd = tuple[date, int]
"""A day of the month, and milligrams at its end."""


def months_chart(
    points: Sequence[MonthEnd], width: float = chart_pen.WIDE, title: str = "Month by month"
) -> chart_pen.Picture:
    """A bar for each month, oldest first; the last one stands at what there is today.

    The table beside it begins with the first month that has something.
    """
    begun = next((nth for nth, (_, mass_mg) in enumerate(points) if mass_mg), 0)
    rows = tuple((f"{day:%B %Y}", MASS.print_in_column(mass_mg)) for day, mass_mg in points[begun:])
    most = max(points, key=lambda point: point[1])
    said = (
        f"{print_mass(points[-1][1])} today; most at the end of {most[0]:%B %Y}, {print_mass(most[1])}."
        if most[1]
        else "Nothing in all this time."
    )
    draw = partial(_draw_chart, tuple(points))
    return chart_pen.Picture(draw, title, said, ("At the end of", "There was"), rows, width)


def _find_step(most_mg: int) -> int:
    """The least round step of which few reach the top."""
    ten = _FIRST_STEP_MG
    while True:
        for step in _STEPS:
            if most_mg <= step * ten * _MOST_MARKS:
                return step * ten
        ten *= 10


def _print_tick(mass_mg: int) -> str:
    return f"{print_decimal(mass_mg, 3, most=3)}{SPACE}g"


def _draw_chart(points: Sequence[MonthEnd], width: float, text_size: float) -> Drawing:
    most_mg = max((mass_mg for _, mass_mg in points), default=0)
    step_mg = _find_step(most_mg)
    top_mg = max(step_mg, -(-most_mg // step_mg) * step_mg)
    ticks = range(0, top_mg + 1, step_mg)
    margin = max(measure(_print_tick(tick), REGULAR, text_size) for tick in ticks) + text_size * 0.6
    bottom = text_size * 1.9
    height = max(text_size * 7, min(width * 0.22, text_size * 11))
    plot = chart_pen.Plot(margin, width, bottom, bottom + height, 0, top_mg)
    marks = [(plot.y(tick), _print_tick(tick)) for tick in ticks]
    shapes = chart_pen.draw_scale(marks, margin, width, text_size)
    each = (width - margin) / len(points)
    # As many names as have room; the last month always has its own.
    every = 1 + int(measure("Mmm ", REGULAR, text_size) / each)
    for nth, (day, mass_mg) in enumerate(points):
        left = margin + each * nth
        if mass_mg:
            role = "left" if nth == len(points) - 1 else "back"
            high = plot.y(mass_mg) - bottom
            bar = chart_pen.draw_box(left + each * 0.15, bottom, each * 0.7, high, role)
            shapes.append(bar)
        if (len(points) - 1 - nth) % every == 0:
            middle = left + each / 2
            shapes.append(chart_pen.draw_text(middle, text_size * 0.5, f"{day:%b}", text_size, "middle"))
    return Drawing(width, plot.top + text_size * 0.8, *shapes)
