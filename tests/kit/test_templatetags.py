"""What a page prints figures, workings, cautions and pictures with."""

import re
from datetime import UTC, date, datetime
from fractions import Fraction
from typing import Any

import pytest
from django.http import HttpRequest
from django.template import Context, RequestContext, Template
from reportlab.graphics.shapes import Drawing

from studio.kit import context
from studio.kit.cautions import CAUTIONS, LOCAL_RULES
from studio.kit.chart_loss import LossPoint, loss_chart
from studio.kit.chart_pen import Picture
from studio.kit.charts import gram_bar
from studio.kit.templatetags.studio_kit import PICTURE_WIDTHS
from studio.kit.working import Given, Source, Step, Working

METAL = Working(
    title="Metal in the pieces",
    formula="What the charge cost, times the pieces, over the charge.",
    givens=(Given("Charge", "180.00 g", "weighed at the pour"),),
    steps=(Step("150.27 x 86.10 g / 180.00 g", "71.88"),),
    result="71.88",
    source=Source.COMMON_PRACTICE,
    notes=("Rounded once.",),
)


def show(template: str, **context: Any) -> str:
    text = Template("{% load studio_kit %}" + template).render(Context(context))
    return text.replace("\u00a0", " ").strip()


@pytest.mark.parametrize(
    ("filter_name", "value", "printed"),
    [
        ("mass", 12_410, "12.41 g"),
        ("bulk", 3_860_000, "3.86 kg"),
        ("fine", 160_256_250, "160.256 g"),
        ("volume", 182_000, "182 ml"),
        ("items", 1, "1 item"),
        ("money", 1_234_500_000, "1,234.50"),
        ("money:4", 824_400, "0.8244"),
        ('quantity:"volume"', 250_000, "250 ml"),
        ('about:"mass"', 1_400_239, "1.40 kg"),
        ('about:"mass"', 842_239, "842 g"),
        ('about:"items"', Fraction(1, 4), "0.25 items"),
        ("percent", 250, "2.5 %"),
        ("length_mm", 75_000, "75 mm"),
        ("minutes", 450, "7 h 30 min"),
        ("energy", 12_400, "12.4 kWh"),
        ("celsius", 750, "750 °C"),
        ("density", 10_360, "10.36 g/cm³"),
        ("melts", 1_500, "1.5 melts"),
        ("day", date(2026, 12, 7), "Mon 7 Dec"),
        ('day:"year"', date(2026, 12, 7), "Mon 7 Dec 2026"),
        ("plain_date", date(2026, 12, 7), "7 Dec 2026"),
    ],
)
def test_each_filter_prints_its_figure_with_the_unit(filter_name: str, value: Any, printed: str) -> None:
    assert show("{{ value|" + filter_name + " }}", value=value) == printed


@pytest.mark.parametrize(
    "filter_name",
    "mass bulk fine volume items money percent length_mm minutes energy celsius vacuum density melts day "
    'plain_date moment clock quantity:"mass" about:"mass"'.split(),
)
def test_what_is_not_there_is_printed_as_a_dash(filter_name: str) -> None:
    assert show("{{ value|" + filter_name + " }}", value=None) == "–"
    assert show("{{ missing|" + filter_name + " }}") == "–"


def test_moments_are_told_by_the_studios_clock() -> None:
    moment = datetime(2026, 7, 1, 23, 10, tzinfo=UTC)
    assert show("{{ value|moment }}", value=moment) == "Thu 2 Jul, 00:10"
    assert show("{{ value|clock }}", value=moment) == "00:10"
    assert show("{{ value|day }}", value=moment) == "Thu 2 Jul"
    assert show("{{ value|plain_date }}", value=moment) == "2 Jul 2026"


def test_a_working_shows_its_result_and_opens_to_everything_it_came_from() -> None:
    html = show("{% working metal %}", metal=METAL)
    summary = html[: html.index("</summary>")]
    assert "Metal in the pieces" in summary
    assert "71.88" in summary
    for word in ("180.00 g", "weighed at the pour", "times the pieces", "Rounded once.", "common practice"):
        assert word in html[len(summary) :]


def test_a_working_lies_closed_unless_it_is_asked_for() -> None:
    assert '<details class="working">' in show("{% working metal %}", metal=METAL)
    assert '<details class="working" open>' in show("{% working metal True %}", metal=METAL)


def test_no_working_shows_nothing() -> None:
    assert show("{% working metal %}", metal=None) == ""


def test_text_in_a_working_is_escaped() -> None:
    working = Working(
        "<b>", "<b>", (Given("<b>", "<b>", "<b>"),), (Step("<b>", "<b>"),), "<b>", "<b>", ("<b>",)
    )
    assert "<b><b>" not in show("{% working metal %}", metal=working).replace("<b>&lt;b&gt;</b>", "")


@pytest.mark.parametrize("kind", ["powder", "burnout", "pour", "quench", "flux"])
def test_each_caution_ends_with_who_decides(kind: str) -> None:
    html = show('{% caution "' + kind + '" %}')
    assert 'role="note"' in html
    assert f"{LOCAL_RULES}</p>" in html.replace("&#x27;", "'")


@pytest.mark.parametrize(
    ("kind", "word"),
    [
        ("powder", "silica"),
        ("powder", "mask"),
        ("powder", "wet"),
        ("burnout", "fumes"),
        ("burnout", "alone"),
        ("pour", "dry"),
        ("pour", "face shield"),
        ("pour", "water"),
        ("quench", "steam"),
        ("quench", "arm's length"),
        ("flux", "graphite"),
    ],
)
def test_cautions_name_the_danger(kind: str, word: str) -> None:
    assert word in CAUTIONS[kind].text


def test_a_caution_nobody_wrote_is_a_mistake_of_the_program() -> None:
    with pytest.raises(KeyError):
        show('{% caution "dragons" %}')


def test_a_picture_is_drawn_for_each_width_under_ids_of_its_own() -> None:
    bar = gram_bar(86_100, 92_700, 450, 750)
    page = RequestContext(HttpRequest(), {"bar": bar})
    html = Template("{% load studio_kit %}{% picture bar %}{% picture bar %}").render(page)
    ids = re.findall(r' id="([^"]+)"', html)
    assert html.count("<svg") == 2 * len(PICTURE_WIDTHS)
    assert len(ids) == len(set(ids))


def test_a_picture_is_drawn_no_more_often_than_it_is_shown() -> None:
    widths: list[float] = []

    def draw(width: float, text_size: float) -> Drawing:
        widths.append(width)
        return Drawing(width, 10)

    picture = Picture(draw, "Title", "Words", (), ())
    Template("{% load studio_kit %}{% picture bar %}").render(RequestContext(HttpRequest(), {"bar": picture}))
    assert widths == list(PICTURE_WIDTHS)


def test_the_same_page_draws_the_same_picture() -> None:
    drawn = [
        Template("{% load studio_kit %}{% picture bar %}").render(
            RequestContext(HttpRequest(), {"bar": gram_bar(86_100, 92_700, 450, 750)})
        )
        for _ in range(2)
    ]
    assert drawn[0] == drawn[1]


def test_a_chart_has_its_figures_beside_it_as_a_table() -> None:
    chart = loss_chart([LossPoint("Cast 39", 190, "spill noted"), LossPoint("Cast 40", 42)])
    html = show("{% picture chart %}", chart=chart)
    table = html[html.index("<table>") :]
    assert "Cast 39" in table
    assert "1.9 %" in table


def test_no_picture_shows_nothing() -> None:
    assert show("{% picture chart %}", chart=None) == ""


def test_a_slot_shows_what_others_put_there_and_nothing_where_nobody_does(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(context, "_templates", [])
    assert show('{% slot "shelf" %}') == ""
    context.fill_slots("kit/caution.html")
    context.fill_slots("kit/caution.html")
    assert show('{% slot "shelf" %}', caution={"title": "Tin & grain"}).count("Tin &amp; grain.") == 1
