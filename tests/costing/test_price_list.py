"""The price list: by collection, with pictures, at what is asked, and without a word of what it cost."""

from typing import Any

import pypdfium2 as pdfium
import pytest
from django.test import Client

from inventory.models import Design
from tests import workshop as w
from tests.inventory.pictures import keep_picture
from tests.support import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def offered(bench: Client, settings: Any, tmp_path: Any) -> None:
    """Three leaves of a design, two of them at one price; a bud of none; a bee for which nothing is asked."""
    settings.VAR_DIR = tmp_path
    lot = w.buy(w.grain(), w.g(200), 260)
    leaf = Design.objects.create(name="Leaf stud", collection="Night garden")
    cast = w.cast_metal(
        [(lot, 100)], [w.piece("Leaf", 60, 3), w.piece("Bud", 20), w.piece("Bee", 10)], back=10
    )
    cast.pieces.filter(name__startswith="Leaf").update(design=leaf)
    prices = {"Leaf 1": 64, "Leaf 2": 64, "Leaf 3": 70, "Bud": 51}
    for piece in cast.pieces.all():
        if piece.name in prices:
            piece.asked_prices.create(day=w.DAY, price_micro=w.money(prices[piece.name]))
    keep_picture(design=leaf)
    keep_picture(piece=cast.pieces.get(name="Bud"))


def test_what_is_asked_stands_by_collection_with_its_picture(bench: Client, offered: None) -> None:
    page = text_of(bench.get("/reports/price-list/"))
    assert (
        page.index("Night garden") < page.index("Leaf stud") < page.index("Other pieces") < page.index("Bud")
    )
    assert (
        "3 to choose from" in page
        and "64.00 to 70.00" in page
        and "51.00 to" not in page
        and "Bee" not in page
    )
    assert page.count("-small") == 0 and page.count('<img src="/pictures/') == 2
    one = text_of(bench.get("/reports/price-list/?collection=Night garden"))
    assert "Leaf stud" in one and "Bud" not in one


def test_on_paper_it_shows_the_pictures_and_says_nothing_of_cost(bench: Client, offered: None) -> None:
    [sheet] = pdfium.PdfDocument(bench.get("/reports/price-list.pdf").content)
    text = sheet.get_textpage().get_text_range()
    assert "Leaf stud" in text and "64.00 to 70.00" in text and "cost" not in text.lower()
    # FPDF_PAGEOBJ_IMAGE is 3 (PDFium, fpdfview).
    assert len(list(sheet.get_objects(filter=[3]))) == 2
    rows = bench.get("/reports/price-list.csv").content.decode("utf-8-sig").splitlines()
    assert "Leaf stud,Sterling,20,3,64.00,70.00" in [row.replace(" silver", "") for row in rows]
