import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from reportlab.graphics.shapes import Drawing, Ellipse, Group, Rect, String

from studio.kit.chart_loss import LossPoint, loss_chart
from studio.kit.chart_pen import Picture, render_svg
from studio.kit.charts import cost_bar, gram_bar

SVG = "{http://www.w3.org/2000/svg}"
BAR = gram_bar(86_100, 92_700, 450, 750)


def parse(text):
    return ElementTree.fromstring(text)


def picture_of(*shapes):
    return Picture(lambda *size: Drawing(100, 50, *shapes), "Title", "Words", (), ())


def test_a_chart_is_announced_by_its_title_and_description():
    svg = parse(render_svg(BAR, 3))
    assert svg.get("role") == "img"
    title, desc = svg.find(f"{SVG}title"), svg.find(f"{SVG}desc")
    assert svg.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
    assert title.text == "Where the metal went"
    assert desc.text.replace("\u00a0", " ").startswith("Of 180.00 g charged: pieces 86.10 g")


def test_two_charts_on_a_page_share_no_id():
    ids = [re.findall(r'\bid="([^"]+)"', render_svg(BAR, number)) for number in (1, 2)]
    assert not set(ids[0]) & set(ids[1])


def test_the_same_chart_and_number_give_the_same_text():
    assert render_svg(BAR, 1) == render_svg(gram_bar(86_100, 92_700, 450, 750), 1)


def test_a_strict_policy_finds_nothing_to_refuse():
    text = render_svg(loss_chart([LossPoint("Cast 1", 40), LossPoint("Cast 2", 190)], 55, 150), 1)
    assert "style" not in text
    assert "<script" not in text
    assert "href" not in text


def test_a_shape_is_coloured_by_its_role():
    classes = {shape.get("class") for shape in parse(render_svg(BAR, 1)).iter(f"{SVG}rect")}
    assert {"part-pieces", "part-back", "part-filings", "part-lost"} <= classes


def test_lines_have_classes_of_their_own():
    svg = parse(render_svg(loss_chart([LossPoint("Cast 1", 40), LossPoint("Cast 2", 50)], 45, 150), 1))
    assert svg.find(f"{SVG}polyline").get("class") == "part-line-pieces"
    assert svg.find(f"{SVG}polyline").get("fill") == "none"
    dashed = [line for line in svg.iter(f"{SVG}line") if line.get("stroke-dasharray")]
    assert dashed[0].get("class") == "part-line-lost"


def test_words_take_the_colour_of_the_page():
    assert {text.get("fill") for text in parse(render_svg(BAR, 1)).iter(f"{SVG}text")} == {"currentColor"}


def test_the_chart_says_its_size():
    svg = parse(render_svg(BAR, 1))
    assert svg.get("width") == "720"
    assert svg.get("viewBox") == f"0 0 720 {svg.get('height')}"


def test_what_is_up_on_the_drawing_is_up_on_the_page():
    rect = parse(render_svg(picture_of(Rect(10, 30, 20, 15)), 1)).find(f"{SVG}rect")
    assert (rect.get("x"), rect.get("y"), rect.get("height")) == ("10", "5", "15")


def test_text_keeps_its_end_of_line_and_weight():
    shape = String(10, 10, "sum", fontName="Studio-Bold", fontSize=14, textAnchor="end")
    text = parse(render_svg(picture_of(shape), 1)).find(f"{SVG}text")
    assert (text.get("text-anchor"), text.get("font-weight")) == ("end", "bold")


def test_what_a_person_typed_is_never_markup():
    nasty = "</text><script>alert(\"1\")</script> & 'x'"
    picture = replace(cost_bar([(nasty, 10)]), title=nasty, description=nasty)
    text = render_svg(picture, 1)
    assert "<script" not in text
    assert parse(text).find(f"{SVG}title").text == nasty


def test_shapes_inside_a_group_are_written():
    assert parse(render_svg(picture_of(Group(Rect(0, 0, 5, 5))), 1)).find(f"{SVG}rect") is not None


def test_a_shape_that_cannot_be_written_is_refused_by_name():
    with pytest.raises(TypeError, match="Ellipse"):
        render_svg(picture_of(Ellipse(1, 1, 2, 3)), 1)


def test_a_turned_group_is_refused():
    group = Group(Rect(0, 0, 5, 5))
    group.rotate(30)
    with pytest.raises(TypeError, match="turned"):
        render_svg(picture_of(group), 1)
