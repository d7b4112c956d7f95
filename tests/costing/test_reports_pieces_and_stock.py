"""What the pieces of a time cost and what the stock of a day cost: each figure added up by hand here."""

import csv
import io
from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test.utils import CaptureQueriesContext
from openpyxl import load_workbook
from pypdf import PdfReader

from costing.models import Policy
from inventory.models import Lot, Material
from inventory.posting.casting import CastFacts, TimeRecord, post_charge, post_found, post_start
from inventory.posting.pieces import post_finish_together, post_melt_back, post_sale
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import post_handed_in
from tests import workshop as w
from tests.support import let_in, text_of

pytestmark = pytest.mark.django_db

LATER = w.DAY + timedelta(days=10)
PIECES, STOCK = "/reports/pieces-cost", "/reports/stock-value"


@pytest.fixture
def reader(client):
    w.make_studio()
    Policy.objects.create(
        from_day=w.DAY,
        normal_loss_pct100=100,
        hourly_rate_micro=w.money(20),
        time_basis="equally",
        wholesale_hundredths=200,
        retail_method="margin",
        retail_hundredths=6_000,
        price_step_micro=w.money(1),
    )
    let_in(client, User.objects.create_user("mara"))
    return client


@pytest.fixture
def casts(reader):
    """Silver at 1.00 a gram and, ten days later, bronze at 0.02 a gram.

    Silver: a leaf of 40 g and a bud of 10 g, 0.50 g lost, one hour at 20.00. The leaf carries 40.00 of metal,
    0.40 of the loss and 10.00 of the hour: 50.40. The bud carries 10.00, 0.10 and 10.00: 20.10.
    Bronze: a hook of 50 g, 0.40 g lost, no time: 1.00 and 0.008 make 1.008, which is printed as 1.01.
    """
    silver = w.buy(w.grain(), w.g(150), 150)
    copper = w.buy(w.grain(w.bronze()), w.g(500), 10)
    first = w.cast_metal(
        [(silver, 100)], [w.piece("Leaf", 40), w.piece("Bud", 10)], back="49.5", bench=[TimeRecord(60)]
    )
    second = w.cast_metal([(copper, 100)], [w.piece("Hook", 50)], back="49.6", day=LATER, alloy=w.bronze())
    return first, second


def page_of(reader, report, **asked):
    answer = reader.get(f"{report}/", asked)
    assert answer.status_code == 200
    return answer, text_of(answer)


def rows_of(answer, caption):
    """The rows of a table on the page as they are printed, its totals under "Together"."""
    table = next(
        laid.block for laid in answer.context["blocks"] if getattr(laid.block, "caption", "") == caption
    )
    return {
        row.cells[0].text: [cell.text.replace("\N{NO-BREAK SPACE}", " ") for cell in row.cells[1:]]
        for row in (*table.rows, *([table.footer] if table.footer else []))
    }


def pieces_of(reader, **asked):
    return rows_of(page_of(reader, PIECES, **asked)[0], "Pieces, newest first")


def stock_of(reader, **asked):
    return rows_of(page_of(reader, STOCK, **asked)[0], "Each by itself")


MARCH = {"from": "2026-03-01", "to": "2026-03-31"}


def test_each_piece_stands_with_its_grams_its_cost_and_its_prices(reader, casts):
    assert pieces_of(reader, **MARCH) == {
        # 1.008 doubled is 2.016, up to 3; 1.008 ÷ 0.4 is 2.52, up to 3.
        "Hook": ["2", "Thu 12 Mar 2026", "Bronze", "as cast", "50.00 g", "1.00", "1.01", "3.00", "3.00"],
        # 100.80 up to 101; 50.40 ÷ 0.4 is 126.
        "Leaf": [
            "1",
            "Mon 2 Mar 2026",
            "Sterling",
            "as cast",
            "40.00 g",
            "40.00",
            "50.40",
            "101.00",
            "126.00",
        ],
        # 40.20 up to 41; 20.10 ÷ 0.4 is 50.25, up to 51.
        "Bud": ["1", "Mon 2 Mar 2026", "Sterling", "as cast", "10.00 g", "10.00", "20.10", "41.00", "51.00"],
        "Together": ["", "", "", "", "100.00 g", "51.00", "71.51", "", ""],
    }


def test_the_first_sentence_tells_the_sums(reader, casts):
    _, page = page_of(reader, PIECES, **MARCH)
    assert "3 pieces were cast in this time and cost 71.51 together, 51.00 of it metal." in page


def test_pieces_are_those_cast_in_the_time_of_the_alloy_asked_for(reader, casts):
    assert set(pieces_of(reader, to="2026-03-11")) == {"Leaf", "Bud", "Together"}
    assert set(pieces_of(reader, **{"from": "2026-03-12", "to": "2026-03-12"})) == {"Hook", "Together"}
    assert set(pieces_of(reader, **MARCH, alloy="Bronze")) == {"Hook", "Together"}


def test_a_piece_belongs_to_the_day_of_its_cast_and_not_of_its_weights(reader, casts):
    first, _ = casts
    first.closed_on = w.DAY + timedelta(days=20)
    first.save()
    assert set(pieces_of(reader, to="2026-03-02")) == {"Leaf", "Bud", "Together"}


def test_finished_and_sold_it_keeps_its_cost_less_what_was_filed_off(reader, casts):
    leaf = casts[0].pieces.get(name="Leaf")
    post_finish_together([(leaf, w.g(39))], w.g(1), w.DAY)
    post_sale(leaf, w.DAY)
    # A gram of filings took 1.00 of its metal with it.
    assert pieces_of(reader, **MARCH)["Leaf"][3:7] == ["sold", "39.00 g", "39.00", "49.40"]


def test_a_piece_back_in_the_pot_is_left_out_and_its_cast_mates_carry_the_rest(reader, casts):
    post_melt_back(casts[0].pieces.get(name="Bud"), w.DAY)
    shown = pieces_of(reader, **MARCH)
    assert "Bud" not in shown
    assert shown["Leaf"][6] == "60.50"


def test_what_a_customers_metal_costs_is_the_work_alone(reader, casts):
    theirs = post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY)
    w.cast_metal(
        [(theirs, 50)], [w.piece("Ring", 20)], back="29.8", owner=w.customer(), bench=[TimeRecord(30)]
    )
    assert pieces_of(reader, **MARCH)["Ring"][4:7] == ["20.00 g", "0.00", "10.00"]


def test_a_time_without_pieces_says_so(reader, casts):
    _, page = page_of(reader, PIECES, **{"from": "2025-01-01", "to": "2025-12-31"})
    assert "No piece was cast in this time." in page


def test_stock_stands_by_alloy_and_kind_and_each_by_itself(reader, casts):
    mould = w.buy(w.powder(), w.g(2000), 16)
    wires = Material.objects.create(name="Ear wires", kind="finding", unit="items")
    w.buy(wires, 20, 8)
    boxes = Material.objects.create(name="Boxes", kind="packaging", unit="items")
    w.buy(boxes, 5, 4)
    oil = Material.objects.create(name="Wrapping oil", kind="packaging", unit="volume")
    w.buy(oil, 250_000, 2)
    assert mould.holder.quantity == w.g(2000)
    answer, page = page_of(reader, STOCK)
    # 150 of silver less 0.50 lost, 10 of bronze less 0.008 lost.
    assert rows_of(answer, "By what it is") == {
        "Bronze": ["499.60 g", "", "9.99"],
        "Sterling": ["149.50 g", "138.288 g", "149.50"],
        "Investment powder": ["2,000.00 g", "", "16.00"],
        "Finding or stone": ["20 items", "", "8.00"],
        "Packaging": ["", "", "6.00"],
        "Together": ["", "", "189.49"],
    }
    assert "The stock cost 189.49, 159.49 of it metal." in page
    assert rows_of(answer, "Each by itself") == {
        "Bronze grain": ["400.00 g", "", "8.00"],
        "Bronze, reclaimed": ["49.60 g", "", "0.99"],
        "Bronze, in pieces": ["50.00 g", "", "1.00"],
        "Sterling grain": ["50.00 g", "46.250 g", "50.00"],
        "Sterling, reclaimed": ["49.50 g", "45.788 g", "49.50"],
        "Sterling, in pieces": ["50.00 g", "46.250 g", "50.00"],
        "Investment powder": ["2,000.00 g", "", "16.00"],
        "Ear wires": ["20 items", "", "8.00"],
        "Boxes": ["5 items", "", "4.00"],
        "Wrapping oil": ["250 ml", "", "2.00"],
        "Together": ["", "", "189.49"],
    }


def test_stock_is_that_of_the_end_of_the_day_asked_for(reader, casts):
    before = stock_of(reader, day="2026-03-11")
    assert before["Bronze grain"] == ["500.00 g", "", "10.00"]
    assert "Bronze, in pieces" not in before
    assert stock_of(reader, day="2026-03-12")["Bronze grain"] == ["400.00 g", "", "8.00"]
    _, empty = page_of(reader, STOCK, day="2026-03-01")
    assert "Nothing was in stock on that day." in empty


def test_metal_in_a_cast_under_way_is_stock(reader, casts):
    cast = post_start(CastFacts("twigs", w.DAY, w.sterling()))
    post_charge(cast, [w.Portion(Lot.objects.get(material=w.grain(), origin="bought"), w.g(30))], w.DAY)
    shown = stock_of(reader)
    assert shown["Sterling, in open casts"] == ["30.00 g", "27.750 g", "30.00"]
    assert shown["Sterling grain"] == ["20.00 g", "18.500 g", "20.00"]


def test_what_left_and_what_was_reversed_is_not_stock(reader, casts):
    leaf = casts[0].pieces.get(name="Leaf")
    post_sale(leaf, w.DAY)
    post_reversal(w.buy(w.grain(), w.g(70), 90).entry)
    post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY)
    post_found(casts[0], 200, Lot.Origin.SWEEPS, w.DAY)
    shown = stock_of(reader)
    # Sold 40.00 of 149.50; of the half gram lost 0.20 is found again; the customer's 50 g are theirs.
    assert shown["Sterling, in pieces"] == ["10.00 g", "9.250 g", "10.00"]
    assert shown["Sterling, reclaimed"] == ["49.70 g", "45.973 g", "49.70"]
    assert shown["Sterling grain"] == ["50.00 g", "46.250 g", "50.00"]
    assert shown["Together"][-1] == "119.69"


@pytest.mark.parametrize(("report", "total"), [(PIECES, "71.51"), (STOCK, "159.49")])
def test_each_is_taken_away_with_the_total_of_the_page(reader, casts, report, total):
    asked = MARCH if report == PIECES else {}
    assert total in page_of(reader, report, **asked)[1]
    paper = reader.get(f"{report}.pdf", asked).content
    assert any(total in sheet.extract_text() for sheet in PdfReader(io.BytesIO(paper)).pages)
    rows = list(csv.reader(io.StringIO(reader.get(f"{report}.csv", asked).content.decode("utf-8-sig"))))
    assert any(total in row for row in rows if row[:1] == ["Together"])
    book = load_workbook(io.BytesIO(reader.get(f"{report}.xlsx", asked).content))
    cells = [cell.value for sheet in book for row in sheet.iter_rows() for cell in row]
    assert float(total) in [cell for cell in cells if isinstance(cell, float)]


@pytest.mark.parametrize(
    ("address", "sentence"),
    [
        (f"{PIECES}/?from=2026-03-09&to=2026-03-01", "after the last day"),
        (f"{PIECES}/?from=soon", "This day cannot be read."),
        (f"{PIECES}/?to=2999-01-01", "That day has not come yet."),
        (f"{PIECES}/?alloy=Tin", "There is no metal named Tin."),
        (f"{PIECES}/?from=0001-01-01", "Write a day from 1 Jan 2000 on."),
        (f"{STOCK}/?day=1999-12-31", "Write a day from 1 Jan 2000 on."),
        (f"{STOCK}/?day=2999-01-01", "That day has not come yet."),
        (f"{STOCK}/?day=%00", "This day cannot be read."),
        (f"{STOCK}/?day=2026-02-30", "This day cannot be read."),
    ],
)
def test_what_cannot_be_asked_for_is_said_and_its_file_leads_there(reader, address, sentence):
    page = reader.get(address)
    assert page.status_code == 200
    assert sentence in text_of(page)
    for ending in ("pdf", "csv", "xlsx"):
        taken = reader.get(address.replace("/?", f".{ending}?"), follow=True)
        assert taken.redirect_chain
        assert sentence in text_of(taken)


@pytest.mark.counts
@pytest.mark.parametrize("report", ["/reports/pieces-cost", "/reports/stock-value", "/reports/insurance"])
def test_a_report_asks_no_more_of_a_large_studio(reader, casts, report):
    with CaptureQueriesContext(connection) as small:
        page_of(reader, report)
    silver = w.buy(w.grain(), w.g(9000), 9000)
    for days in range(1, 7):
        material = Material.objects.create(name=f"Stones {days}", kind="finding", unit="items")
        w.buy(material, 10, 10)
        w.cast_metal([(silver, 300)], [w.piece("Leaf", 100, 20)], back="199.5", day=w.DAY + timedelta(days))
    with CaptureQueriesContext(connection) as large:
        page_of(reader, report)
    assert len(large) == len(small)


@pytest.mark.parametrize("report", [PIECES, STOCK])
def test_a_studio_with_nothing_has_nothing_to_tell(reader, report):
    _, page = page_of(reader, report)
    assert "No piece was cast" in page or "Nothing was in stock" in page
    assert reader.get(f"{report}.pdf").content.startswith(b"%PDF")


def test_a_long_list_of_pieces_comes_a_page_at_a_time_with_the_total_of_all(reader):
    silver = w.buy(w.grain(), w.g(1000), 1000)
    w.cast_metal([(silver, 500)], [w.piece("Bead", 300, 60)], back="197.5")
    answer, page = page_of(reader, PIECES, **MARCH)
    assert "60 pieces were cast in this time" in page
    assert len(rows_of(answer, "Pieces, newest first")) == 26, "25 and the total"
    # 300.00 of metal and 2.50 of loss.
    assert rows_of(answer, "Pieces, newest first")["Together"][6] == "302.50"


INSURANCE = "/reports/insurance"


def test_what_is_asked_names_the_rules_only_where_there_are_any(reader, casts):
    assert "What is asked follows your cost rules of today" in page_of(reader, INSURANCE)[1]
    Policy.objects.all().delete()
    page = page_of(reader, INSURANCE)[1]
    assert "What is asked follows starting figures, as you have no cost rules yet, tax and all." in page


def test_the_insurance_list_has_pieces_at_cost_and_as_they_are_asked_and_the_equipment(reader, casts):
    w.kiln()
    theirs = post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY)
    post_sale(casts[0].pieces.get(name="Bud"), w.DAY)
    answer, page = page_of(reader, INSURANCE)
    assert rows_of(answer, "Pieces that are here") == {
        "Hook": ["2", "Bronze", "50.00 g", "1.01", "3.00", "3.00"],
        "Leaf": ["1", "Sterling", "40.00 g", "50.40", "101.00", "126.00"],
        "Together": ["", "", "90.00 g", "51.41", "104.00", "129.00"],
    }
    assert rows_of(answer, "Equipment, at what it cost")["Together"] == ["", "", "900.00"]
    assert (
        rows_of(answer, "In your care: customers' metal")["Ilse Quill"][0]
        == f"Lot {theirs.pk}, Sterling grain"
    )
    # Stock without its pieces: 50 and 49.50 of silver, 8 and 0.992 of bronze.
    assert "pieces 51.41, equipment 900.00, stock without the pieces 108.49; 1,059.90 in all." in page


def test_pieces_stand_at_the_cost_of_their_metal_beside_their_full_cost(reader, casts):
    answer, page = page_of(reader, STOCK)
    pieces = rows_of(answer, "Pieces, at the cost of their metal and at full cost")
    assert pieces["Leaf"] == ["1", "40.00 g", "40.00", "50.40"]
    assert pieces["Together"] == ["", "100.00 g", "51.00", "71.51"]
    # 159.49 less 51.00 of metal, and 71.508 instead.
    assert "so the stock with its pieces at full cost comes to 180.00." in page
    assert rows_of(answer, "By state of work")["Metal in pieces"][-1] == "51.00"
    assert "Counted and found right: name, day, signature" in page


def test_customers_metal_stands_apart(reader, casts):
    post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY)
    answer, page = page_of(reader, STOCK)
    assert "The stock cost 159.49," in page
    assert rows_of(answer, "Customers' metal, apart")["Ilse Quill"][-1] == "50.00 g"


def test_the_page_of_the_stock_names_the_same_sum(reader, casts):
    assert "at what it cost: 159.49 GBP in all" in text_of(reader.get("/stock/"))
