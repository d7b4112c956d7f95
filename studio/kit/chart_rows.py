"""Bars under each other, each made of the same parts: what a unit costs from one seller and another."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from reportlab.graphics.shapes import Drawing

from studio.kit import chart_pen
from studio.kit.fonts import BOLD, REGULAR, measure


@dataclass(frozen=True, slots=True)
class BarRow:
    """One bar: its name, what it comes to as text, and its parts as whole numbers of any one unit."""

    label: str
    text: str
    parts: tuple[int, ...]


def rows_chart(
    rows: Sequence[BarRow],
    parts: Sequence[tuple[str, str]],
    title: str,
    description: str,
    print_part: tuple[tuple[str, ...], ...] = (),
    width: float = chart_pen.WIDE,
) -> chart_pen.Picture:
    """`parts` are (role, label) of what every bar is made of; `print_part` the figures of each row as text."""
    headers = ("", *(label for _, label in parts), "together")
    told = tuple((row.label, *figures, row.text) for row, figures in zip(rows, print_part, strict=True))
    draw = partial(_draw, tuple(rows), tuple(parts))
    return chart_pen.Picture(draw, title, description, headers, told, width)


def _draw(
    rows: Sequence[BarRow], parts: Sequence[tuple[str, str]], width: float, text_size: float
) -> Drawing:
    key, key_height = chart_pen.draw_key(
        [chart_pen.KeyEntry(role, label) for role, label in parts], width, text_size
    )
    # On a narrow sheet a name and its figure do not fit beside each other.
    room = width - text_size
    is_split = any(
        measure(row.label, REGULAR, text_size) + measure(row.text, BOLD, text_size) > room for row in rows
    )
    thick, line = text_size * 0.95, text_size * 1.35
    each = text_size * 1.55 + line * (2 if is_split else 1)
    height = key_height + text_size * 0.6 + each * len(rows)
    most = max((sum(row.parts) for row in rows), default=0) or 1
    shapes = []
    for place, row in enumerate(rows):
        base = height - each * (place + 1) + text_size * 0.35
        words = base + thick + text_size * 0.4
        shapes.append(chart_pen.draw_text(0, words + (line if is_split else 0), row.label, text_size))
        at = (0.0, "start") if is_split else (width, "end")
        shapes.append(chart_pen.draw_text(at[0], words, row.text, text_size, at[1], bold=True))
        left = 0.0
        for (role, _), amount in zip(parts, row.parts, strict=True):
            wide = width * amount / most
            if amount:
                shapes.append(chart_pen.draw_box(left, base, wide, thick, role))
            left += wide
    return Drawing(width, height, *shapes, *key)
