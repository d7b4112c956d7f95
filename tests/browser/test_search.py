"""The search box in a real browser: a key at the desk, a link on a phone."""

import pytest

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS, Look, check_page
from tests.served import ServedStudio

PHONE, DESK = LOOKS[1], LOOKS[2]


def test_a_slash_puts_the_cursor_in_the_box_but_not_while_somebody_types(
    open_in: OpenPage, demo_studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = open_in(demo_studio, DESK)
    page.goto("/casts/record/")
    page.locator("[name=title]").focus()
    page.keyboard.type("3/4 ring")
    expect(page.locator("[name=title]")).to_have_value("3/4 ring")
    page.goto("/stock/")
    page.keyboard.press("/")
    expect(page.locator("#seek")).to_be_focused()
    page.keyboard.type("Cast 40")
    page.keyboard.press("Enter")
    expect(page.locator(".seek-meant a")).to_contain_text("Cast 40, a twig bangle")
    check_page(page)


@pytest.mark.parametrize("look", [Look(320, "light"), PHONE], ids=str)
def test_on_a_phone_a_link_leads_to_it(open_in: OpenPage, demo_studio: ServedStudio, look: Look) -> None:
    from playwright.sync_api import expect

    page = open_in(demo_studio, look)
    page.goto("/")
    page.tap(".seek-link")
    expect(page.locator("#seek")).to_be_focused()
    page.keyboard.type("larch")
    page.keyboard.press("Enter")
    page.tap("text=All pieces with these words")
    expect(page.locator("tbody th[scope=row]").first).to_contain_text("Larch cone charm")
    page.goto("/search/?q=larch")
    check_page(page, by_look=True)
