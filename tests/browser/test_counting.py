"""A shelf of twenty lots is counted on a phone in under two minutes, with a draft that outlives the page."""

from typing import TYPE_CHECKING

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS, check_page
from tests.counting import CountedHand
from tests.served import ServedStudio

if TYPE_CHECKING:
    from playwright.sync_api import Page

PHONE = LOOKS[0]
MOST_SECONDS = 120
LOTS = 20


def _numbers(page: "Page") -> list[str]:
    names: list[str] = page.locator("[name^='lot-']").evaluate_all(
        "fields => fields.map(field => field.name)"
    )
    return names[:LOTS]


def test_twenty_lots_take_less_than_two_minutes_on_a_phone(
    open_in: OpenPage, own_demo_studio: ServedStudio
) -> None:
    page = open_in(own_demo_studio, PHONE)
    page.goto("/stock/count/?kind=metal")
    page.wait_for_load_state("networkidle")
    names = _numbers(page)
    book = page.locator("table.weighing td.num:nth-child(2)").all_text_contents()
    hand = CountedHand(page)
    for place, name in enumerate(names):
        grams = book[place].replace("\u00a0g", "").replace(",", "").strip()
        hand.write(name, grams if place else "960")
    # What was typed is still there after the page was left.
    page.wait_for_timeout(400)
    page.reload()
    page.wait_for_load_state("networkidle")
    assert page.input_value(f"[name='{names[1]}']") != ""
    hand.press("form .press:has-text('Keep the count')")
    page.wait_for_load_state("networkidle")
    assert "missing. Look again, or say why." in page.inner_text("main")
    assert page.input_value(f"[name='{names[1]}']") != ""
    check_page(page)
    hand.choose(names[0].replace("lot-", "why-"), "nobody knows")
    hand.press("form .press:has-text('Keep the count')")
    page.wait_for_url("**/stock/counts/*/")
    assert f"{LOTS} lots, counted by" in page.inner_text("main")
    check_page(page)
    assert len(hand.entries) == LOTS + 3
    assert hand.seconds < MOST_SECONDS
