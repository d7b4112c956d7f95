"""A tin on a phone: begun, filled by ticking, some taken out, and the rules of reclaim beside it."""

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS, check_page
from tests.served import ServedStudio


def test_a_tin_is_begun_filled_and_weighed_out_on_a_phone(
    open_in: OpenPage, own_demo_studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = open_in(own_demo_studio, LOOKS[0])
    page.goto("/stock/reclaim/")
    expect(page.locator("main")).to_contain_text("may go in the next charge")
    check_page(page)
    page.goto("/stock/tins/new/")
    page.fill("input[name=name]", "Second tin")
    page.select_option("select[name=alloy]", label="Sterling silver")
    page.click("main button.press")
    page.wait_for_load_state("networkidle")
    expect(page.locator("main")).to_contain_text("It is empty")
    page.get_by_text("Put lots in", exact=True).click()
    page.get_by_label("Silver buttons").check()
    page.click("button:has-text('Put them in')")
    page.wait_for_load_state("networkidle")
    expect(page.locator("h2:has-text('What it came from') ~ * tbody tr")).not_to_have_count(0)
    page.get_by_text("Take some out", exact=True).click()
    page.fill("input[name=quantity]", "12,5")
    page.click("button:has-text('Take it out')")
    page.wait_for_load_state("networkidle")
    expect(page.locator("main")).to_contain_text("12.50\u00a0g is out")
    check_page(page)
