"""A line over another figure, with what it is now and a level."""

import pytest

from studio.kit.chart_line import Scale, choose_step, line_chart
from studio.kit.chart_pen import render_svg
from studio.kit.printing import print_money

ACROSS, UPRIGHT = Scale("Silver, per ozt", print_money), Scale("price", print_money)
POINTS = [(20_000_000, 60_000_000), (30_000_000, 70_000_000), (40_000_000, 80_000_000)]


def test_every_point_of_the_line_stands_in_its_table():
    picture = line_chart(
        POINTS, ACROSS, UPRIGHT, "Price", "It rises.", now=30_000_000, level=(65_000_000, "asked")
    )
    assert picture.headers == ("Silver, per ozt", "price")
    assert picture.rows == (("20.00", "60.00"), ("30.00", "70.00"), ("40.00", "80.00"))
    drawn = render_svg(picture, 1)
    assert "now, 30.00" in drawn
    assert "asked" in drawn
    assert "part-kiln" in drawn


def test_without_a_level_and_a_now_there_is_only_the_line():
    drawn = render_svg(line_chart(POINTS, ACROSS, UPRIGHT, "Price", "It rises.", width=300), 1)
    assert "now" not in drawn


def test_a_line_has_two_points():
    with pytest.raises(ValueError, match="two points"):
        line_chart(POINTS[:1], ACROSS, UPRIGHT, "Price", "")


@pytest.mark.parametrize(
    ("span", "most", "step"), [(1, 5, 1), (10, 5, 2), (11, 5, 5), (65, 5, 20), (100_000_000, 5, 20_000_000)]
)
def test_steps_are_round(span, most, step):
    assert choose_step(span, most) == step
