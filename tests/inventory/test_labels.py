"""Labels: laid out as the studio's sheets are, read by a QR reader off the printed page, leading to their thing.

The reader is zxing-cpp, which knows nothing of what drew them; the page is drawn by PDFium.
"""

import re
from typing import Any

import pypdfium2 as pdfium
import pytest
import zxingcpp as zxing
from django.http import HttpResponse
from django.test import Client, override_settings

from inventory.models import LabelSheet, Lot
from inventory.views.labels import LABEL_PRICES
from studio.kit.labels import Label, SheetShape, draw_labels
from tests import workshop as w
from tests.support import text_of

DPI = 150
UM_PER_INCH = 25_400
SMALL = SheetShape((210_000, 297_000), 5, 13, (38_000, 21_000), (9_000, 11_000), (500, 0))


def read_codes(pdf: bytes) -> list[list[tuple[str, float, float]]]:
    """Of each page: (what a code says, its middle from the left and from the top in mm)."""
    pages = []
    for page in pdfium.PdfDocument(pdf):
        image = page.render(scale=DPI / 72, grayscale=True).to_numpy().squeeze()
        found = []
        for code in zxing.read_barcodes(image, formats=zxing.BarcodeFormat.QRCode):
            corners = [code.position.top_left, code.position.bottom_right]
            x, y = (sum(getattr(corner, way) for corner in corners) / 2 * 25.4 / DPI for way in ("x", "y"))
            found.append((code.text, x, y))
        pages.append(found)
    return pages


def texts(pdf: bytes) -> str:
    return " ".join(page.get_textpage().get_text_range() for page in pdfium.PdfDocument(pdf))


def test_each_code_stands_in_its_place_of_the_sheet() -> None:
    labels = [
        Label(f"http://192.0.2.10:8000/t/l{number}/", (f"Lot {number}", "grain")) for number in range(1, 71)
    ]
    pages = read_codes(draw_labels(SMALL, labels, 4, "Labels"))
    first, second = (sorted(page, key=lambda code: ((code[2] - 11) // 21, code[1])) for page in pages)
    assert [code for code, _, _ in first] == [label.code for label in labels[:62]]
    assert [code for code, _, _ in second] == [label.code for label in labels[62:]]
    # Places 4 and 5 are the last of the first row; place 6 begins the second.
    for (_, x, y), column, row in zip(first, (3, 4, 0), (0, 0, 1), strict=False):
        left, top = 9 + column * 38.5, 11 + row * 21
        assert left < x < left + 21 and top < y < top + 21


def test_a_name_too_long_is_cut_and_leaves_its_label_to_nobody_else() -> None:
    long = Label(
        "http://192.0.2.10/t/p1/", ("A ring with an endless name " * 6, "x" * 200, "12 g", "", "24.00")
    )
    pdf = draw_labels(SMALL, [long] * 65, 1, "Labels")
    [page] = read_codes(pdf)
    assert len(page) == 65
    assert "…" in texts(pdf) and "24.00" in texts(pdf)


@pytest.mark.parametrize(
    "label_um", [(12_000, 12_000), (70_000, 37_000), (20_000, 60_000), (100_000, 15_000)]
)
def test_codes_of_every_shape_of_label_are_read(label_um: tuple[int, int]) -> None:
    shape = SheetShape((210_000, 297_000), 1, 2, label_um, (10_000, 10_000), (0, 5_000))
    [page] = read_codes(
        draw_labels(shape, [Label("http://192.0.2.10:8000/t/p12345/", ("Leaf", "12 g"))] * 2, 1, "x")
    )
    assert len(page) == 2


def test_the_same_labels_give_the_same_bytes() -> None:
    label = Label("http://192.0.2.10/t/p1/", ("Leaf",))
    assert draw_labels(SMALL, [label], 1, "x") == draw_labels(SMALL, [label], 1, "x")


@pytest.fixture
def sheet(db: None) -> LabelSheet:
    return LabelSheet.objects.create(name="An A4 sheet in 24")


@pytest.fixture
def lots(studio: Any) -> list[Lot]:
    return [w.buy(w.grain(), w.g(100), 130), w.buy(w.powder(), w.g(5000), 40)]


def ask(bench: Client, kind: str, sheet: LabelSheet, **wanted: Any) -> HttpResponse:
    asked = {"make": "pdf", "sheet": sheet.pk, "first": 1, "copies": 1, **wanted}
    asked |= {"sheet": wanted["other_sheet"]} if "other_sheet" in wanted else {}
    return bench.get(f"/labels/{kind}/", asked, HTTP_HOST="localhost:8000")


@pytest.mark.django_db
@override_settings(STUDIO_HOSTS=["studio.example"])
def test_a_scanned_label_opens_its_things_page(bench: Client, lots: list[Lot], sheet: LabelSheet) -> None:
    cast = w.cast_metal([(lots[0], 50)], [w.piece("Leaf", 30)], back="19.9")
    piece, tin = cast.pieces.get(), w.tin()
    for kind, keys, pages, says in (
        (
            "lot",
            [lot.pk for lot in lots],
            [f"/stock/lots/{lot.pk}/" for lot in lots],
            [f"Lot {lots[0].pk}", "50.00 g on"],
        ),
        ("piece", [piece.pk], [f"/pieces/{piece.pk}/"], ["Leaf", f"Cast {cast.number}, piece 1", "30.00 g"]),
        ("cast", [cast.number], [f"/casts/{cast.number}/"], [f"Cast {cast.number}"]),
        ("tin", [tin.pk], [f"/stock/tins/{tin.pk}/"], [tin.name, str(tin.material.alloy)]),
    ):
        answer = ask(bench, kind, sheet, pick=keys, copies=2, first=3)
        assert answer["Content-Type"] == "application/pdf"
        [codes] = read_codes(answer.content)
        printed = " ".join(texts(answer.content).split())
        assert len(codes) == 2 * len(keys) and all(word in printed for word in says)
        starts = {re.fullmatch(r"http://studio\.example:8000(/t/.*)", code)[1] for code, _, _ in codes}
        assert {bench.get(start)["Location"] for start in starts} == set(pages)


@pytest.mark.django_db
def test_labels_are_printed_for_what_the_list_shows_and_is_ticked(
    bench: Client, lots: list[Lot], sheet: LabelSheet
) -> None:
    page = text_of(bench.get("/stock/lots/?kind=powder&sort=-cost&page=1"))
    address = re.search(r'href="(/labels/lot/[^"]*)"', page)[1].replace("&amp;", "&")
    shown = text_of(bench.get(address))
    assert re.findall(r'name="pick" value="(\d+)"', shown) == [str(lots[1].pk)]
    assert 'type="hidden" name="kind" value="powder"' in shown
    assert "after signing in" in shown
    own = text_of(bench.get(f"/stock/lots/{lots[0].pk}/"))
    assert f"/labels/lot/?only={lots[0].pk}" in own
    one = text_of(bench.get(f"/labels/lot/?only={lots[0].pk}", HTTP_HOST="127.0.0.1:8000"))
    assert re.findall(r'name="pick" value="(\d+)"', one) == [str(lots[0].pk)]
    assert "which only this machine knows" in one


@pytest.mark.django_db
def test_what_cannot_be_printed_is_told_beside_its_field(
    bench: Client, lots: list[Lot], sheet: LabelSheet
) -> None:
    right = {"pick": [lots[0].pk]}
    for wrong, sentence in (
        ({"first": 25}, "This sheet has 24 labels."),
        ({"first": 0}, "Write 1 or more."),
        ({"copies": 100}, "Write 99 or less."),
        ({"other_sheet": 99}, "Choose one that is in the list."),
        ({"pick": []}, "Choose at least one."),
        ({"pick": [77]}, "one of these is not in it"),
    ):
        answer = ask(bench, "lot", sheet, **(right | wrong))
        assert answer.status_code == 422
        assert sentence in text_of(answer)
    for wrong in ("999", "x", "9" * 30):
        assert bench.get(f"/labels/lot/?only={wrong}").status_code == 404
    assert bench.get("/labels/teapot/").status_code == 404


@pytest.mark.django_db
def test_a_price_is_printed_where_another_part_of_the_studio_knows_one(
    bench: Client, lots: list[Lot], sheet: LabelSheet, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "Print the price" not in text_of(bench.get("/labels/lot/"))
    monkeypatch.setitem(LABEL_PRICES, "lot", lambda records: {records[0].pk: "24.00 GBP"})
    assert "Print the price" in text_of(bench.get("/labels/lot/"))
    picked = {"pick": [lot.pk for lot in lots]}
    assert texts(ask(bench, "lot", sheet, **picked, with_price="on").content).count("24.00 GBP") == 1
    assert "24.00 GBP" not in texts(ask(bench, "lot", sheet, **picked).content)
    # What is asked for a piece; one for which nothing is asked has a tag without a price.
    cast = w.cast_metal([(lots[0], 50)], [w.piece("Leaf", 30, 2)], back="19.9")
    first, second = cast.pieces.order_by("number")
    for price in (30, 42):
        first.asked_prices.create(day=w.DAY, price_micro=w.money(price))
    tags = texts(ask(bench, "piece", sheet, pick=[first.pk, second.pk], with_price="on").content)
    assert tags.count("42.00 GBP") == 1 and "30.00 GBP" not in tags


@pytest.mark.django_db
def test_a_sheet_is_written_down_and_labels_that_do_not_fit_are_refused(
    bench: Client, lots: list[Lot]
) -> None:
    assert "/setup/label-sheets/new/" in text_of(bench.get("/labels/lot/"))
    given = {
        "name": "small",
        "page_width_um": "210",
        "page_height_um": "29.7 cm",
        "columns": "5",
        "rows": "13",
        "label_width_um": "38",
        "label_height_um": "21",
        "left_um": "9",
        "top_um": "11",
        "gap_across_um": "0.5",
        "gap_down_um": "0",
    }
    answer = bench.post("/setup/label-sheets/new/", {**given, "columns": "6", "rows": "14"})
    assert answer.status_code == 422
    page = text_of(answer)
    assert (
        "So many do not fit across: with margin and gaps they take 239.5 mm, and the sheet has 210 mm."
        in page
    )
    assert "So many do not fit down: with margin and gaps they take 305 mm, and the sheet has 297 mm." in page
    assert "/labels/" not in bench.post("/setup/label-sheets/new/", given)["Location"]
    assert LabelSheet.objects.get().shape == SMALL
