"""Casts at the bench, in a real browser: sums appear while figures are typed, and each step can be read by everyone."""

from typing import TYPE_CHECKING

import pytest

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS, Look, assert_adds_up, check_page
from tests.served import ServedStudio

if TYPE_CHECKING:
    from playwright.sync_api import Page

PHONE, DESK = LOOKS[0], LOOKS[3]


def _choose(page: "Page", name: str, word: str) -> None:
    """The last that fits: what came last is not used up yet."""
    texts = page.locator(f"select[name={name}] option").all_text_contents()
    page.select_option(f"select[name={name}]", index=max(n for n, text in enumerate(texts) if word in text))


def _save(page: "Page") -> None:
    page.click("section.next button.press")
    page.wait_for_load_state("networkidle")


def test_the_balance_is_told_before_anything_is_saved(
    open_in: OpenPage, own_demo_studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = open_in(own_demo_studio, PHONE)
    page.goto("/casts/record/")
    _choose(page, "charge-0-what", "Sterling grain")
    page.fill("input[name=charge-0-mass]", "20")
    page.fill("input[name=pieces-0-mass]", "8")
    page.fill("input[name=back]", "11,9")
    expect(page.locator("#balance")).to_contain_text("0.10\u00a0g (0.5\u00a0%) not accounted for")
    _choose(page, "powder-0-lot", "powder")
    page.fill("input[name=powder-0-mass]", "1 kg")
    expect(page.locator("#mould .live")).to_contain_text("400.00\u00a0g")
    page.click("button[name=add_line][value=charge]")
    page.wait_for_load_state("networkidle")
    expect(page.locator("[name=charge-2-what]")).to_be_focused()
    expect(page.locator("input[name=back]")).to_have_value("11,9")
    check_page(page)


@pytest.mark.parametrize("look", [PHONE, DESK], ids=str)
def test_a_cast_step_by_step(open_in: OpenPage, own_demo_studio: ServedStudio, look: Look) -> None:
    from playwright.sync_api import expect

    page = open_in(own_demo_studio, look)
    page.goto("/casts/start/")
    page.fill("input[name=title]", "a leaf ring")
    page.click("main button.press")
    page.wait_for_load_state("networkidle")
    check_page(page, by_look=look.on_a_phone)
    _choose(page, "tree-0-what", "wax")
    page.fill("input[name=tree-0-quantity]", "3.3")
    _save(page)
    page.fill("input[name=powder-0-mass]", "1 lb")
    _save(page)
    check_page(page, by_look=look.on_a_phone)
    page.select_option("select[name=firing]", value="new")
    _save(page)
    assert "Write how long the kiln was on" in page.content()
    check_page(page, by_look=look.on_a_phone)
    page.fill("input[name=firing_minutes]", "12 h 30")
    _save(page)
    _choose(page, "charge-0-what", "Sterling grain")
    page.fill("input[name=charge-0-mass]", "20")
    _save(page)
    page.fill("input[name=vacuum]", "27.5")
    _save(page)
    page.fill("input[name=pieces-0-name]", "leaf ring")
    page.fill("input[name=pieces-0-mass]", "9")
    page.fill("input[name=back]", "10.9")
    _save(page)
    expect(page.locator(".picture").first).to_contain_text("lost 0.10\u00a0g")
    check_page(page, by_look=look.on_a_phone)
    assert_adds_up(own_demo_studio)
