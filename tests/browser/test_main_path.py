"""The main job, by hand, from an empty studio to two PDFs: on a phone and at a desk."""

import io
import re
from typing import TYPE_CHECKING

import pytest

from tests.browser.conftest import OpenPage
from tests.browser_support import (
    LOOKS,
    Look,
    assert_adds_up,
)
from tests.served import ServedStudio

if TYPE_CHECKING:
    from playwright.sync_api import Page


@pytest.mark.parametrize("look", [LOOKS[0], LOOKS[3]], ids=str)
def test_from_an_empty_studio_to_two_reports(
    open_in: OpenPage, empty_studio: ServedStudio, look: Look
) -> None:
    page = open_in(empty_studio, look, signed_in=False)
    _set_up(page, empty_studio)
    _take_delivery(page, "Sterling 925 grain", "100 g", "118", carriage="9.50")
    _take_delivery(page, "Investment powder", "10 kg", "34.50", carriage="0")
    _record_cast(page)
    assert "Fern stud 2" in page.content()
    # 60 g of 127.50 for 100 g is 76.50; the pieces took 39.10 g of the 60 g
    cost = _read_pdf(page, "/reports/cast-cost.pdf?working=on")
    assert "Cost of cast 1" in cost
    assert "49.85" in cost  # 76.50 x 39.10 / 60 = 49.8525
    loss = _read_pdf(page, "/reports/metal-loss.pdf")
    assert "0.70" in loss
    assert "127.50" in loss
    assert_adds_up(empty_studio)


def _set_up(page: "Page", studio: ServedStudio) -> None:
    page.goto("/")
    page.goto(f"/welcome/?key={studio.welcome_key()}")
    page.fill("input[name=name]", "Heron Lane studio")
    page.fill("input[name=currency]", "GBP")
    page.fill("input[name=username]", "mara")
    page.fill("input[name=password1]", "wax and grain 925")
    page.fill("input[name=password2]", "wax and grain 925")
    page.press("input[name=password2]", "Enter")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/setup/"))
    page.press("text=I cast silver", "Enter")
    page.wait_for_url(re.compile(r"/setup/suppliers/new/"))


def _press(page: "Page") -> None:
    """By the keyboard: sums that come in below a field move the button, and a click may land where it was."""
    page.press("main button.press", "Enter")


def _take_delivery(page: "Page", material: str, quantity: str, price: str, carriage: str) -> None:
    page.goto("/buying/deliveries/new/")
    page.fill("input[name=new_supplier]", f"Marsh Gate, for {material[:8]}")
    page.fill("input[name=carriage]", carriage)
    _choose(page, "lines-0-material", material)
    page.fill("input[name=lines-0-quantity]", quantity)
    page.fill("input[name=lines-0-price]", price)
    _press(page)
    page.wait_for_url(re.compile(r"/buying/deliveries/\d+/"))


def _record_cast(page: "Page") -> None:
    page.goto("/casts/record/")
    page.fill("input[name=title]", "fern studs")
    _choose(page, "alloy", "Sterling")
    _choose(page, "powder-0-lot", "powder")
    page.fill("input[name=powder-0-mass]", "560")
    _choose(page, "charge-0-what", "Lot")
    page.fill("input[name=charge-0-mass]", "60")
    page.fill("input[name=pieces-0-name]", "Fern stud")
    page.fill("input[name=pieces-0-count]", "2")
    page.fill("input[name=pieces-0-mass]", "39,1 g")
    page.fill("input[name=back]", "20.2")
    page.click("main button.press:has-text('Record the cast')")
    page.wait_for_url(re.compile(r"/casts/1/"))


def _choose(page: "Page", name: str, word: str) -> None:
    """The first choice whose words hold `word`."""
    options = page.locator(f"select[name={name}] option")
    texts = options.all_text_contents()
    found = next(place for place, text in enumerate(texts) if word.lower() in text.lower())
    page.select_option(f"select[name={name}]", index=found)


def _read_pdf(page: "Page", address: str) -> str:
    from pypdf import PdfReader

    answer = page.request.get(address)
    assert answer.status == 200
    return "\n".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(answer.body())).pages)
