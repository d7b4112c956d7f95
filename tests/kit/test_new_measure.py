"""A measure that nobody knew yet: one declaration, and it is asked for, printed, listed and taken away."""

import csv
import importlib
import io
import json
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
from django.template import Context, Engine
from django.test import RequestFactory

from studio.kit import measures
from studio.kit.columns import FigureColumn
from studio.kit.documents import Column, Table
from studio.kit.export import write_csv
from studio.kit.fields import ReadField, understand
from studio.kit.forms import StudioForm
from studio.kit.measuring import Measure, by_word
from studio.kit.reporting import write_document_csv
from studio.kit.tables import BaseTable, lay_out
from studio.kit.templatetags import studio_kit
from tests.kit.reports import make_document


@pytest.fixture
def pressure() -> Iterator[Measure]:
    """The declaration; everything below only names it."""
    yield Measure(
        "pressure",
        symbol="bar",
        digits=3,
        factors=by_word({"bar": 1000, "mbar|millibar": 1}),
        bare="bar",
        maximum=20_000,
        example="a pressure such as 1.5 bar or 40 mbar",
        typed="bar",
    )
    del measures.MEASURES["pressure"]


def pump_form(*args: Any, **kwargs: Any) -> StudioForm:
    class PumpForm(StudioForm):
        reached = ReadField("pressure", label="Reached", minimum=1)

    return PumpForm(*args, **kwargs)


class PumpTable(BaseTable):
    reached = FigureColumn(kind="pressure", verbose_name="Reached")


def test_a_new_measure_is_printed(pressure: Measure) -> None:
    assert pressure.print(1_500) == "1.5\u00a0bar"
    assert pressure.print(None) == "–"


def test_a_template_prints_a_new_measure(pressure: Measure) -> None:
    importlib.reload(studio_kit)
    engine = Engine(libraries={"kit": "studio.kit.templatetags.studio_kit"})
    template = engine.from_string("{% load kit %}{{ reached|pressure }}, {{ nothing|pressure }}")
    assert template.render(Context({"reached": 40})) == "0.04\u00a0bar, –"


def test_a_field_asks_for_a_new_measure(pressure: Measure) -> None:
    assert pump_form({"reached": "40 millibar"}).is_valid()
    read = pump_form({"reached": "1.5"})
    assert read.is_valid() and read.cleaned_data == {"reached": 1_500}
    assert read["reached"].understood == "1.5\u00a0bar"
    assert pump_form({"reached": ""}).errors["reached"] == ["Write a pressure such as 1.5 bar or 40 mbar."]
    assert (
        pump_form({"reached": "3 psi"}).errors["reached"][0].startswith("This cannot be read. Write a pres")
    )
    assert (
        pump_form({"reached": "21"})
        .errors["reached"][0]
        .startswith("The most this field takes is 20\u00a0bar.")
    )


def test_a_page_tells_what_it_understood_of_a_new_measure(pressure: Measure) -> None:
    asked = pump_form()["reached"].build_widget_attrs({})["hx-vals"]
    assert json.loads(str(asked)) == {"kind": "pressure", "field": "reached", "minimum": 1}
    assert understand("pressure", "40 mbar", minimum=1) == (True, "0.04\u00a0bar")
    assert 'value="0.04 bar"' in str(pump_form(initial={"reached": 40})["reached"])


def test_a_list_shows_and_adds_up_and_takes_away_a_new_measure(pressure: Measure) -> None:
    request = RequestFactory().get("/")
    table = PumpTable([{"reached": 1_500}, {"reached": 40}], totals={"reached": 1_540})
    html = lay_out(table, request).as_html(request)
    assert '<th scope="row" class="num">1.5\u00a0bar</th>' in html
    assert '<th scope="row" class="num">1.54\u00a0bar</th>' in html
    assert list(table.export_rows()) == [[Decimal("1.5")], [Decimal("0.04")]]
    taken = write_csv(table.export_headings(), table.export_rows()).decode("utf-8-sig")
    assert taken.splitlines() == ["Reached (bar)", "1.50", "0.04"]


def test_a_report_shows_and_takes_away_a_new_measure(pressure: Measure) -> None:
    table = Table("Pumps", (Column("reached", "Reached", "pressure"),), [(1_500,)])
    rows = csv.reader(io.StringIO(write_document_csv(make_document(table)).decode("utf-8-sig")))
    assert list(rows) == [["Reached (bar)"], ["1.5"]]


def test_a_name_is_given_to_one_measure_only(pressure: Measure) -> None:
    with pytest.raises(ValueError, match="already is a measure"):
        Measure("pressure")
