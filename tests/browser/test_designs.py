"""Designs, the time that they take, and a quote, on a phone: the clock runs on through a reload."""

import re

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS, check_page
from tests.databases import run_beside
from tests.served import ServedStudio

PHONE = LOOKS[0]
UNFINISHED = """
from inventory.queries.pieces import casts_with_unfinished_pieces
print(casts_with_unfinished_pieces()[0].number)
"""


def test_the_clock_survives_a_reload_and_a_quote_becomes_plans(
    open_in: OpenPage, own_demo_studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    number = run_beside(own_demo_studio.database_url, UNFINISHED).strip()
    page = open_in(own_demo_studio, PHONE)
    page.goto(f"/casts/{number}/finish/")
    clock = page.get_by_role("button", name=re.compile("the clock|Stop|Go on"))
    clock.click()
    expect(clock).to_have_text(re.compile("Stop the clock"))
    page.reload()
    expect(clock).to_have_text(re.compile("Stop the clock"))
    clock.click()
    expect(page.locator("[name=spent]")).to_have_value("1 min")
    page.get_by_role("button", name=re.compile(r"^Take \d+")).click()
    expect(page.locator("[name=spent]")).to_have_value(re.compile(r"^\d+ min$"))
    check_page(page)
    page.goto("/pieces/designs/")
    page.get_by_role("link", name="Fern stud").click()
    expect(page.locator("#answer")).to_contain_text("One costs")
    check_page(page)
    page.goto("/pieces/quotes/1/")
    check_page(page)
    page.get_by_role("button", name=re.compile("Make plans of it")).click()
    expect(page.locator("main")).to_contain_text("planned")
