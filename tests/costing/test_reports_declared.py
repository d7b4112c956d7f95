"""A new report is one module in an app's `reports/`: its page, its files and its line in the list come with it."""

import csv
import io
import sys

import openpyxl
import pytest
from django.contrib.auth.models import User
from pypdf import PdfReader

from studio.kit import reporting
from tests import workshop as w

pytestmark = pytest.mark.django_db

MODULE = """
from datetime import date

from costing.forms.reports import DayForm
from inventory.reports.making import make_document
from inventory.queries.studio import current_studio
from studio.kit.documents import Column, Filled, fill_table, summed
from studio.kit.reporting import report


@report("tins", "What is in the tins", "Grams by tin on a day.", DayForm)
def build_tins(params):
    tins = fill_table(
        "Tins",
        [
            Filled(Column("tin", "Tin"), ["Grain", "Scrap"], "Together"),
            summed(Column("mass", "Grams", "mass"), [12_410, 7_590]),
        ],
    )
    return make_document(current_studio(), "What is in the tins", [tins], f"tins {params['day']}")
"""


@pytest.fixture
def reader(client, tmp_path, monkeypatch):
    """Somebody who signs in to a studio whose code has one module more."""
    package = tmp_path / "tin_reports"
    package.mkdir()
    (package / "__init__.py").touch()
    (package / "tins.py").write_text(MODULE)
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setattr(reporting, "_reports", dict(reporting._reports))
    reporting.find_reports("tin_reports")
    w.make_studio()
    client.force_login(User.objects.create_user("mara"))
    yield client
    for name in ("tin_reports", "tin_reports.tins"):
        sys.modules.pop(name, None)


def test_it_stands_last_in_the_list(reader):
    assert reader.get("/reports/").content.decode().rindex("Grams by tin") > 0
    assert [one.name for one in reporting.all_reports()][-1] == "tins"


def test_it_has_a_page_with_its_form_and_its_files(reader):
    page = reader.get("/reports/tins/").content.decode()
    assert 'name="day"' in page
    assert "12.41\u00a0g" in page
    assert "20.00\u00a0g" in page
    assert all(f"/reports/tins.{ending}?day=" in page for ending in ("pdf", "csv", "xlsx"))


def test_it_is_taken_away_on_paper_and_as_tables(reader):
    paper = PdfReader(io.BytesIO(reader.get("/reports/tins.pdf").content)).pages[0].extract_text()
    assert "Together\n20.00" in paper
    rows = list(csv.reader(io.StringIO(reader.get("/reports/tins.csv").content.decode("utf-8-sig"))))
    assert rows == [["Tin", "Grams (g)"], ["Grain", "12.41"], ["Scrap", "7.59"], ["Together", "20.00"]]
    sheet = openpyxl.load_workbook(io.BytesIO(reader.get("/reports/tins.xlsx").content)).active
    assert [cell.value for cell in sheet[4]] == ["Together", 20]


def test_it_is_refused_for_a_day_that_is_none(reader):
    assert 'name="day"' in reader.get("/reports/tins/", {"day": "someday"}).content.decode()
    assert reader.get("/reports/tins.pdf", {"day": "someday"}).status_code == 302
