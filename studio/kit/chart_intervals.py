"""Figures with the interval that each is known to, under each other on one scale of tenfolds around one."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from math import log10

from reportlab.graphics.shapes import Drawing, Shape

from studio.kit import chart_pen
from studio.kit.fonts import BOLD, REGULAR, measure

#: The scale reaches no further: what lies beyond runs to its edge.
_LEAST, _MOST = -2, 3
_MARKS = {-2: "0.01", -1: "0.1", 0: "1", 1: "10", 2: "100", 3: "1,000"}


@dataclass(frozen=True, slots=True)
class IntervalRow:
    """One figure: its name, what it comes to as text, and its ends; `middle` and `high` None: without end."""

    label: str
    text: str
    low: Fraction
    middle: Fraction | None
    high: Fraction | None
    role: str = "pieces"


def interval_chart(
    rows: Sequence[IntervalRow],
    title: str,
    description: str,
    key: Sequence[chart_pen.KeyEntry],
    headers: tuple[str, ...],
    told: tuple[tuple[str, ...], ...],
    width: float = chart_pen.WIDE,
) -> chart_pen.Picture:
    """`headers` and `told` are the same figures as printed text."""
    return chart_pen.Picture(
        partial(_draw, tuple(rows), tuple(key)), title, description, headers, told, width
    )


def _place(value: Fraction | None) -> float:
    """Where a figure lies in tenfolds, within the scale."""
    if value is None:
        return _MOST
    return min(max(log10(value), _LEAST), _MOST) if value > 0 else _LEAST


def _draw(
    rows: Sequence[IntervalRow], key: Sequence[chart_pen.KeyEntry], width: float, text_size: float
) -> Drawing:
    drawn_key, key_height = chart_pen.draw_key(key, width, text_size)
    ends = [_place(end) for row in rows for end in (row.low, row.middle, row.high)]
    first = min(-1, *(_floor(end) for end in ends)) if ends else -1
    last = max(1, *(-_floor(-end) for end in ends)) if ends else 1
    left, right = text_size, width - text_size * 1.6
    step = (right - left) / (last - first)
    room = width - text_size
    is_split = any(
        measure(row.label, REGULAR, text_size) + measure(row.text, BOLD, text_size) > room for row in rows
    )
    line = text_size * 1.35
    each = text_size * 2.1 + line * (2 if is_split else 1)
    bottom = key_height + text_size * 1.9
    height = bottom + each * len(rows)
    shapes: list[Shape] = []
    for mark in range(first, last + 1):
        x = left + step * (mark - first)
        shapes.append(
            chart_pen.draw_line(x, bottom, x, height, "quiet" if mark == 0 else "rule", dashed=mark == 0)
        )
        shapes.append(chart_pen.draw_text(x, key_height + text_size * 0.6, _MARKS[mark], text_size, "middle"))
    for place, row in enumerate(rows):
        base = height - each * (place + 1) + text_size * 0.9
        words = base + text_size * 0.75
        shapes.append(chart_pen.draw_text(0, words + (line if is_split else 0), row.label, text_size))
        at = (0.0, "start") if is_split else (width, "end")
        shapes.append(chart_pen.draw_text(at[0], words, row.text, text_size, at[1], bold=True))
        low, middle, high = (left + step * (_place(end) - first) for end in (row.low, row.middle, row.high))
        thick = text_size * 0.2
        shapes.append(chart_pen.draw_box(low, base - thick / 2, max(high - low, thick), thick, row.role))
        shapes.append(chart_pen.draw_dot(middle, base, text_size * 0.36, row.role))
    return Drawing(width, height, *shapes, *drawn_key)


def _floor(number: float) -> int:
    return int(number // 1)
