"""What a person opens the studio for on a phone: three questions, each answered from the first page in two taps."""

import re
from typing import TYPE_CHECKING

import pytest

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS
from tests.served import ServedStudio

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

pytestmark = [pytest.mark.browser, pytest.mark.filterwarnings("ignore::ResourceWarning")]
PHONE = LOOKS[0]
HEIGHT = 740


@pytest.fixture
def home(demo_studio: ServedStudio, open_in: OpenPage) -> "Page":
    page = open_in(demo_studio, PHONE)
    page.set_viewport_size({"width": PHONE.width, "height": HEIGHT})
    page.goto("/")
    return page


def assert_seen(answer: "Locator") -> None:
    """It stands on the screen as the page opens: nobody has to look for it further down."""
    box = answer.bounding_box()
    assert box is not None and box["y"] >= 0 and box["y"] + box["height"] <= HEIGHT, box


def test_what_to_ask_for_a_piece(home: "Page") -> None:
    home.get_by_role("link", name=re.compile("finished piece")).tap()
    home.locator("tbody th a").first.tap()
    answer = home.locator(
        "#answer", has_text=re.compile(r"Asked: [\d.,]+|Ask [\d.,]+ wholesale, [\d.,]+ retail")
    )
    answer.wait_for()
    assert_seen(answer)


def test_when_and_how_much_powder_to_order(home: "Page") -> None:
    home.get_by_role("navigation").get_by_role("link", name="Buying").tap()
    powder = home.locator(".outlook p").first
    assert re.search(r"Order [\d.,]+\s\w+ (by|now)", powder.inner_text())
    assert_seen(powder)


def test_how_much_scrap_goes_in_the_next_pot(home: "Page") -> None:
    line = home.locator("summary", has_text="Sterling silver: reclaim for the next charge")
    assert re.search(r"[\d.]+\sg$", line.inner_text().strip())
    line.tap()
    assert home.locator("details[open] .source").is_visible()
