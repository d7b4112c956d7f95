"""Tracing on the page: every lot in a piece, every piece of a lot, the same in the files."""

import csv
import io

import pytest

from inventory.models import Lot
from inventory.posting.casting import Portion
from inventory.posting.mending import Mend, post_mended
from inventory.queries.ledger import standing_entries
from tests import workshop as w
from tests.support import count_queries, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def remelted(bench):
    """Three casts, each from the button of the one before and as much fresh metal of its own lot."""
    lots = [w.buy(w.grain(), w.g(100), 100) for _ in range(3)]
    powder = w.buy(w.powder(), w.g(900), 9, supplier_batch="B7")
    button = None
    for lot in lots:
        charge = [(lot, 20), (button, 20)] if button else [(lot, 40)]
        used = {"powder": [Portion(powder, w.g(200))]}
        cast = w.cast_metal(charge, [w.piece("Leaf", 20)], back=20, **used)
        button = Lot.objects.get(from_cast=cast)
    return lots


def test_a_piece_three_remelts_deep_names_every_lot(bench, remelted):
    page = text_of(bench.get("/reports/trace-piece/?cast=3&piece=1"))
    for lot, grams, share in zip(remelted, ("5.00 g", "5.00 g", "10.00 g"), ("25", "25", "50"), strict=True):
        row = page.split(f"Lot {lot.pk}, Sterling grain")[1].split("</tr>")[0]
        assert grams in row and f"{share} %" in row
    assert "melted 3 times" in page and "B7" in page and "200.00 g" in page


def test_a_lot_names_every_piece_that_it_is_in(bench, remelted):
    page = text_of(bench.get(f"/reports/trace-lot/?lot={remelted[0].pk}"))
    assert [f">{number}<" in page for number in (1, 2, 3)] == [True, True, True]
    rows = list(csv.reader(io.StringIO(text_of(bench.get(f"/reports/trace-lot.csv?lot={remelted[0].pk}")))))
    assert [row[4] for row in rows if row and row[0] == "Leaf"] == ["5", "10", "20"]
    powder = Lot.objects.get(supplier_batch="B7")
    assert text_of(bench.get(f"/reports/trace-lot/?lot={powder.pk}")).count("Leaf") >= 3


def test_a_mended_charge_is_traced_as_it_should_have_been(bench, remelted):
    entry = standing_entries().filter(kind="charge").order_by("pk").first()
    other = w.buy(w.grain(), w.g(100), 100)
    post_mended({entry: Mend(entry.day, [Portion(other, w.g(40))])})
    page = text_of(bench.get("/reports/trace-piece/?cast=3&piece=1"))
    assert f"Lot {other.pk}," in page and f"Lot {remelted[0].pk}, S" not in page


def test_what_is_not_there_is_said(bench, remelted):
    assert "has no piece 9" in text_of(bench.get("/reports/trace-piece/?cast=3&piece=9"))
    assert "no lot 999" in text_of(bench.get("/reports/trace-lot/?lot=999"))


@pytest.mark.counts
def test_a_longer_book_asks_no_more(bench, remelted):
    addresses = ("/reports/trace-piece/?cast=1&piece=1", f"/reports/trace-lot/?lot={remelted[0].pk}")
    before = [count_queries(lambda address=address: bench.get(address)) for address in addresses]
    button = Lot.objects.filter(from_cast__number=3).get()
    w.cast_metal([(button, 5), (remelted[0], 20)], [w.piece("Pod", 10)], back=15)
    assert [count_queries(lambda address=address: bench.get(address)) for address in addresses] == before
