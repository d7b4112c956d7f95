"""Prices on a phone: what metal has overtaken, a what-if that moves while it is typed, and a file of prices."""

import re
from typing import TYPE_CHECKING

import pytest

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS
from tests.served import ServedStudio

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = [pytest.mark.browser, pytest.mark.filterwarnings("ignore::ResourceWarning")]


@pytest.fixture
def phone(demo_studio: ServedStudio, open_in: OpenPage) -> "Page":
    return open_in(demo_studio, LOOKS[0])


def test_what_metal_has_overtaken_and_what_if_it_moved_again(phone: "Page") -> None:
    phone.goto("/prices/under-the-floor/")
    lead = phone.locator(".lead").inner_text()
    assert re.search(r"\d+ pieces and \d+ designs? are asked at less than their floor", lead)
    assert phone.evaluate("document.documentElement.scrollWidth") <= LOOKS[0].width
    phone.locator("tbody th a").first.tap()
    priced = phone.locator("#priced")
    assert "It is under it." in priced.inner_text()
    phone.get_by_text("What if it were priced another way?").tap()
    phone.get_by_label(re.compile("Pure silver")).fill("90 per ozt")
    phone.locator("#priced", has_text="With metal as tried").wait_for()
    assert "This is tried with pure silver at 90.00 per ozt." in priced.inner_text().replace("\u00a0", " ")


def test_a_file_of_prices_is_shown_as_understood(phone: "Page") -> None:
    phone.goto("/setup/pure-metal/paste/")
    content = b"day,price\n2025-01-02,24.10\n2025-01-03,24.35\n"
    file = {"name": "silver.csv", "mimeType": "text/csv", "buffer": content}
    phone.get_by_label(re.compile("Or a CSV file")).set_input_files(file)  # type: ignore[arg-type]
    phone.get_by_role("button", name="Show what is understood").tap()
    asked = phone.locator(".asked", has_text="2 days of silver")
    asked.wait_for()
    assert "2025-01-03,24.35" in phone.locator("textarea").input_value()
    assert phone.get_by_role("button", name="Keep these prices").is_visible()
