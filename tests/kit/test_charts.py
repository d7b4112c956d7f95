import re
from datetime import date
from pathlib import Path

import pytest
from reportlab.graphics.shapes import Circle, Rect, String

from studio.kit.chart_curve import curve_chart
from studio.kit.chart_loss import LossPoint, loss_chart
from studio.kit.chart_months import months_chart
from studio.kit.chart_pen import COST_ROLES, LIGHT, PAPER_TEXT, SCREEN_TEXT
from studio.kit.charts import cost_bar, flow_bar, gram_bar, used_up_bar
from studio.kit.fonts import REGULAR, measure

TWELVE = [
    LossPoint(f"Cast {29 + nth}", loss, "spill noted" if loss == 190 else "")
    for nth, loss in enumerate([40, 55, 30, 62, 50, 42, 55, 28, 60, 50, 190, 58])
]
STYLES = Path(__file__).parents[2] / "studio" / "static" / "studio"


def words(drawing):
    return [shape.text.replace("\u00a0", " ") for shape in drawing.contents if isinstance(shape, String)]


def bars(drawing):
    """Filled rectangles of the bar itself, from left to right; key marks are lower."""
    rects = [shape for shape in drawing.contents if isinstance(shape, Rect) and shape.fillColor is not None]
    top = max(rect.y for rect in rects)
    return sorted((r for r in rects if r.y == top and r._role != "ground"), key=lambda r: r.x)


def text_box(shape):
    wide = measure(shape.text, shape.fontName, shape.fontSize)
    left = {"start": shape.x, "middle": shape.x - wide / 2, "end": shape.x - wide}[shape.textAnchor]
    return left, shape.y - shape.fontSize * 0.2, left + wide, shape.y + shape.fontSize * 0.75


def overlapping(drawing):
    boxes = [(shape.text, text_box(shape)) for shape in drawing.contents if isinstance(shape, String)]
    return [
        (one, other)
        for place, (one, a) in enumerate(boxes)
        for other, b in boxes[place + 1 :]
        if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
    ]


def outside(drawing):
    boxes = [(shape.text, text_box(shape)) for shape in drawing.contents if isinstance(shape, String)]
    return [
        text
        for text, (left, low, right, high) in boxes
        if left < -0.1 or low < -0.1 or right > drawing.width + 0.1 or high > drawing.height + 0.1
    ]


def test_the_gram_bar_keeps_its_order():
    bar = bars(gram_bar(86_100, 92_700, 450, 750).drawing)
    assert [rect._role for rect in bar] == ["pieces", "back", "filings", "lost"]


def test_the_gram_bar_says_every_figure_in_words():
    assert words(gram_bar(86_100, 92_700, 450, 750).drawing) == [
        "pieces 86.10 g",
        "back to the tin 92.70 g",
        "filings and spill 0.45 g",
        "lost 0.75 g (0.42 %)",
    ]


def test_the_gram_bar_is_as_wide_as_the_charge():
    bar = bars(gram_bar(50_000, 30_000, 15_000, 5_000, width=401).drawing)
    assert [rect.width for rect in bar] == pytest.approx([200, 120, 60, 20])


def test_a_loss_of_a_hair_can_still_be_seen():
    bar = bars(gram_bar(500_000, 500_000, 0, 1, width=320).drawing)
    assert bar[-1].width == 2
    assert sum(rect.width for rect in bar) == pytest.approx(319)


def test_more_metal_out_than_in_is_said_and_not_drawn():
    picture = gram_bar(86_100, 92_700, 450, -50)
    assert "more than went in 0.05 g (0.03 %)" in words(picture.drawing)
    assert [rect._role for rect in bars(picture.drawing)] == ["pieces", "back", "filings"]


def test_an_open_cast_shows_what_is_not_weighed_yet():
    picture = gram_bar(30_000, 20_000, 0, 0, unweighed_mg=50_000, width=401)
    assert "not weighed yet 50.00 g" in words(picture.drawing)
    assert sum(rect.width for rect in bars(picture.drawing)) == pytest.approx(200)


def test_a_cast_of_nothing_has_a_bar_of_nothing():
    assert "lost 0.00 g" in words(gram_bar(0, 0, 0, 0).drawing)


def test_a_bar_says_its_figures_aloud_and_needs_no_table():
    picture = gram_bar(86_100, 92_700, 450, 750)
    assert "lost 0.75\u00a0g (0.42\u00a0%)" in picture.description
    assert picture.rows == ()


def test_the_shares_of_a_cost_add_up_to_a_hundred():
    said = words(cost_bar([("metal", 1), ("mould", 1), ("kiln", 1)]).drawing)
    assert said == ["metal 0.00 (34 %)", "mould 0.00 (33 %)", "kiln 0.00 (33 %)"]


def test_money_that_came_back_stands_in_the_key_only():
    picture = cost_bar([("metal", 6_810_000), ("grant", -740_000)])
    assert "grant \u22120.74" in words(picture.drawing)
    assert len(bars(picture.drawing)) == 1


def test_a_cost_of_many_parts_uses_every_colour_before_one_comes_again():
    roles = [rect._role for rect in bars(cost_bar([(f"part {n}", 10) for n in range(10)]).drawing)]
    assert len(set(roles[: len(COST_ROLES)])) == len(COST_ROLES)


def test_a_part_of_a_cost_keeps_its_colour_where_another_is_nothing():
    whole, without = cost_bar([("metal", 5), ("loss", 5)]), cost_bar([("metal", 0), ("loss", 5)])
    assert words(without.drawing) == ["loss 0.00 (100 %)"]
    assert bars(without.drawing)[0]._role == bars(whole.drawing)[1]._role


def test_a_cost_without_parts_still_draws():
    assert cost_bar([]).description == "Of 0.00 in all: nothing yet."


def test_a_lot_shows_what_is_used_and_left_in_its_own_unit():
    picture = used_up_bar(120_000, 80_000, "volume")
    assert words(picture.drawing) == ["used 120 ml (60 %)", "left 80 ml (40 %)"]


def test_shares_of_one_bar_have_the_same_decimals():
    picture = flow_bar([("pieces", "pieces", 50_800), ("back", "back", 24_050), ("lost", "lost", 25_150)])
    assert words(picture.drawing) == [
        "pieces 50.80 g (50.80 %)",
        "back 24.05 g (24.05 %)",
        "lost 25.15 g (25.15 %)",
    ]


@pytest.mark.parametrize("width", [280, 320, 480, 720])
@pytest.mark.parametrize("size", [PAPER_TEXT, SCREEN_TEXT])
def test_no_word_of_a_chart_is_written_over_another_or_off_the_edge(width, size):
    many = [LossPoint(f"Cast {n}", (n * 37) % 90 + (150 if n % 13 == 0 else 0) - 10) for n in range(1, 81)]
    pictures = [
        gram_bar(12_345_678, 92_700_000, 450_123, 750_001),
        cost_bar([(f"a part with a long name {n}", 10**n) for n in range(9)]),
        cost_bar([("Einbettmassenlieferantengesellschaft" * 4, 10), ("metal", 5)]),
        used_up_bar(1, 99_999_999, "mass"),
        loss_chart(TWELVE, 55, 150),
        loss_chart(many, 55, 150),
        loss_chart(many[:1], 55, 150),
        loss_chart([LossPoint("A cast with a very long name of its own", 9_999)] * 3, 55, 150),
        loss_chart([]),
    ]
    for picture in pictures:
        drawing = picture.draw(width, size)
        assert overlapping(drawing) == []
        assert outside(drawing) == []


def test_chart_text_keeps_its_size_on_a_phone():
    sizes = {
        s.fontSize for s in loss_chart(TWELVE, 55, 150, width=320).drawing.contents if isinstance(s, String)
    }
    assert sizes == {SCREEN_TEXT}


def test_the_last_cast_is_named_with_its_loss():
    assert "Cast 40: 0.58 %" in words(loss_chart(TWELVE, 55, 150).drawing)


def test_a_cast_above_the_limit_is_named_larger_and_told_why():
    drawing = loss_chart(TWELVE, 55, 150).drawing
    assert "Cast 39: 1.9 %, spill noted" in words(drawing)
    points = [shape for shape in drawing.contents if isinstance(shape, Circle)]
    over = [point for point in points if point._role == "lost"]
    assert len(over) == 1
    assert over[0].r > min(point.r for point in points)


def test_the_lines_of_mean_and_limit_are_told_in_the_key():
    said = words(loss_chart(TWELVE, 55, 150).drawing)
    assert said[-3:] == ["loss of a cast", "mean 0.55 %", "usual at most 1.5 %, 1 above it"]


def test_the_loss_chart_says_itself_in_a_sentence():
    assert loss_chart(TWELVE, 55, 150).description.replace("\u00a0", " ") == (
        "Loss of 12 casts, oldest first; last Cast 40: 0.58 %. Mean 0.55 %. "
        "Usual at most 1.5 %: 1 above it, last Cast 39: 1.9 %."
    )


def test_the_table_beside_the_loss_chart_marks_what_is_above_the_usual():
    assert loss_chart(TWELVE, 55, 150).rows[10] == ("Cast 39", "1.9\u00a0%", "more than usual, spill noted")


def test_a_weighing_gain_falls_below_the_zero_line():
    drawing = loss_chart([LossPoint("Cast 1", -20), LossPoint("Cast 2", 40)]).drawing
    low, high = (shape.cy for shape in drawing.contents if isinstance(shape, Circle) and shape.cy > 40)
    zero = next(s for s in drawing.contents if isinstance(s, String) and s.text == "0\u00a0%")
    assert low < zero.y + zero.fontSize * 0.34 < high


def test_before_the_first_cast_the_chart_says_so():
    picture = loss_chart([])
    assert words(picture.drawing) == ["No cast has been closed yet."]
    assert picture.rows == ()


def test_every_role_on_a_chart_has_a_colour_in_the_style_sheet():
    sheet = (STYLES / "charts.css").read_text()
    pictures = [
        gram_bar(1, 1, 1, 1, 1),
        cost_bar([(str(n), 1) for n in range(8)]),
        used_up_bar(1, 1, "items"),
        loss_chart(TWELVE, 55, 150),
    ]
    for shape in (shape for picture in pictures for shape in picture.drawing.contents):
        if isinstance(shape, String):
            continue
        kind = "" if getattr(shape, "fillColor", None) is not None else "line-"
        assert f".part-{kind}{shape._role} {{" in sheet


def test_paper_takes_the_colours_of_the_light_page():
    tokens = (STYLES / "studio.css").read_text()
    for role in ("pieces", "back", "filings", "lost", "mould", "kiln", "time", "other"):
        first = re.search(rf"--part-{role}: (#\w+)", tokens)
        assert first is not None
        assert first.group(1) == LIGHT[role]


def test_a_word_in_the_key_wider_than_the_chart_is_broken():
    said = words(cost_bar([("x" * 200, 5)], width=320).drawing)
    assert "".join(said).replace(" ", "").startswith("x" * 200)
    assert all(measure(text, REGULAR, SCREEN_TEXT) < 320 for text in said)


BURNOUT = [(0, 20), (60, 150), (180, 150), (420, 750), (660, 750), (720, 600), (780, 600)]


@pytest.mark.parametrize("width", [320, 600, 1040])
def test_the_heat_of_the_kiln_is_drawn_within_its_width_and_nothing_is_written_over(width):
    drawing = curve_chart(BURNOUT, [(0, 75), (30, 150)], width=width).drawing
    assert outside(drawing) == [] and overlapping(drawing) == []
    assert {"0 h", "0 °C", "800 °C", "the kiln", "what it is set to"} <= set(words(drawing))


def test_the_heat_of_the_kiln_is_told_in_figures():
    picture = curve_chart(BURNOUT)
    assert picture.description.replace("\u00a0", " ") == "From 20 °C in 13 h to 600 °C, at most 750 °C."
    rows = [[text.replace("\u00a0", " ") for text in row] for row in picture.rows]
    assert rows[0] == ["kiln on", "20 °C"] and rows[-1] == ["13 h", "600 °C"]


def test_a_curve_needs_two_corners():
    with pytest.raises(ValueError, match="two corners"):
        curve_chart([(0, 20)])


def test_the_table_of_months_begins_with_the_first_that_had_something():
    ends = [(date(2026, month, 1), mass_mg) for month, mass_mg in enumerate([0, 0, 1_500, 0, 2_500], start=1)]
    rows = months_chart(ends).rows
    assert [row[0] for row in rows] == ["March 2026", "April 2026", "May 2026"]
    assert len(months_chart([(day, 0) for day, _ in ends]).rows) == 5
