"""Stock to date and ahead, drawn and in figures."""

from datetime import date, timedelta

import pytest

from studio.kit.chart_pen import render_svg
from studio.kit.chart_stock import stock_chart

TODAY = date(2026, 6, 1)
HELD = [(TODAY - timedelta(days=7), 900), (TODAY, 800)]
AHEAD = [(TODAY, 800, 800, 800), (TODAY + timedelta(days=7), 300, 500, 700)]


def chart(comes=(), **changes):
    said = {"held": HELD, "ahead": AHEAD, "level": 400, "print_quantity": lambda one: f"{one} g"} | changes
    return stock_chart(title="Powder", description="It falls.", comes=comes, **said)


def test_every_point_stands_in_the_table():
    assert chart(print_in_column=str).rows == (
        ("25\u00a0May\u00a02026", "900", "", ""),
        ("1\u00a0Jun\u00a02026", "800", "", ""),
        ("8\u00a0Jun\u00a02026", "500", "300", "700"),
    )


def test_the_level_the_band_and_what_comes_are_named():
    comes = [(TODAY + timedelta(days=3), 250), (TODAY + timedelta(days=90), 100)]
    drawn = render_svg(chart(comes), 1)
    assert "order at 400 g" in drawn and "comes: 250 g on" in drawn
    assert drawn.count("<circle") == 2, "one in the key and one on the day that is drawn"
    assert "<polygon" in drawn and "today" in drawn
    assert "comes" not in render_svg(chart(), 1)


def test_it_is_drawn_on_a_phone_and_with_nothing_there():
    empty = chart(held=[(TODAY, 0)], ahead=[(TODAY, 0, 0, 0), (TODAY + timedelta(days=7), 0, 0, 0)], level=0)
    assert "<svg" in render_svg(empty, 1) and empty.draw(300, 14).width == 300
    with pytest.raises(ValueError, match="later"):
        chart(held=[], ahead=AHEAD)
