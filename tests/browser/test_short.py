"""How much it takes to write down a cast that is done, with its firing and the time at the bench: counted."""

import re
from typing import TYPE_CHECKING

import pytest

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS, Look, assert_adds_up, check_page
from tests.counting import CountedHand
from tests.databases import run_beside
from tests.served import ServedStudio

if TYPE_CHECKING:
    from playwright.sync_api import Page, Route

PHONE, DESK = LOOKS[0], LOOKS[3]
SCREEN_PX = 740
MOST_SCREENS = 2.5
MOST_ENTRIES = 12
MOST_SECONDS = 60
#: Every firing so long ago that none of them is the one of today's flask.
LONG_AGO = """
from datetime import timedelta
from django.db.models import F
from inventory.models import Firing
Firing.objects.update(day=F("day") - timedelta(days=30))
"""


def _open(open_in: OpenPage, studio: ServedStudio, address: str = "/casts/record/") -> "Page":
    page = open_in(studio, PHONE)
    page.set_viewport_size({"width": 360, "height": SCREEN_PX})
    page.goto(address)
    page.wait_for_load_state("networkidle")
    return page


def _height(page: "Page") -> float:
    """From the top of the page to the end of the button that saves it."""
    return float(
        page.evaluate("document.querySelector('form.record .press').getBoundingClientRect().bottom + scrollY")
    )


def test_a_cast_with_kiln_and_time_takes_few_entries(
    open_in: OpenPage, own_demo_studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    run_beside(own_demo_studio.database_url, LONG_AGO)
    page = _open(open_in, own_demo_studio)
    expect(page.locator("[name=firing]")).to_have_value("new")
    # What is chosen stands whole below a list that is too narrow for it.
    expect(page.locator("[name='powder-0-lot'] + .chosen")).to_have_text(
        re.compile(r"^Lot \d+: .+ good until")
    )
    assert _height(page) <= MOST_SCREENS * SCREEN_PX
    hand = CountedHand(page)
    hand.write("tree-0-quantity", "4.2")
    hand.write("powder-0-mass", "560")
    hand.write("firing_energy", "12.4")
    hand.write("charge-0-mass", "20")
    hand.write("charge-1-mass", "20")
    hand.write("pieces-0-name", "Fern stud")
    hand.write("pieces-0-count", "2")
    hand.write("pieces-0-mass", "18")
    hand.write("back", "21.9")
    hand.write("time-0-minutes", "1 h 20")
    check_page(page)
    hand.press("main button.press:has-text('Record the cast')")
    expect(page.locator("main")).to_contain_text("is written down")
    assert len(hand.entries) <= MOST_ENTRIES, hand.entries
    assert hand.seconds < MOST_SECONDS
    main = page.locator("main")
    expect(main).to_contain_text("2 × Fern stud")
    expect(main).to_contain_text("1\u00a0h\u00a020\u00a0min")
    expect(main).to_contain_text("224.00\u00a0g of water")
    assert_adds_up(own_demo_studio)


def test_another_like_it_takes_less(open_in: OpenPage, own_demo_studio: ServedStudio) -> None:
    from playwright.sync_api import expect

    page = _open(open_in, own_demo_studio, "/casts/40/")
    hand = CountedHand(page)
    hand.press("a:has-text('Record another like this')")
    page.wait_for_load_state("networkidle")
    expect(page.locator(".lead")).to_contain_text("It begins as cast 40 was.")
    assert _height(page) <= MOST_SCREENS * SCREEN_PX
    names = page.locator("[name^=pieces-][name$=-name]")
    assert all(name.input_value() for name in names.all())
    expect(page.locator("[name=title]")).not_to_have_value("")
    check_page(page)


def test_the_page_says_which_alloy_and_its_metal_follows(
    open_in: OpenPage, own_demo_studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = _open(open_in, own_demo_studio)
    heading, button = page.locator("#part-charge"), page.locator("form.record button.press")
    expect(heading).to_have_text("Charge: Sterling silver")
    expect(button).to_have_text("Record the cast in Sterling silver")
    first = page.locator("[name=charge-0-what] optgroup").first
    expect(first).to_have_attribute("label", "Sterling silver")
    page.fill("[name=back]", "21,9")
    page.fill("[name=powder-0-mass]", "600")
    page.focus("[name=alloy]")
    page.select_option("[name=alloy]", label="Bronze")
    expect(heading).to_have_text("Charge: Bronze")
    expect(button).to_have_text("Record the cast in Bronze")
    expect(first).to_have_attribute("label", "Bronze")
    expect(page.locator("[name=charge-0-what] option:checked")).to_contain_text("Bronze grain")
    expect(page.locator("[name=back]")).to_have_value("21,9")
    expect(page.locator("[name=powder-0-mass]")).to_have_value("600")
    expect(page.locator("[name=alloy]")).to_be_focused()
    check_page(page)


def test_what_is_typed_while_the_metals_follow_stays(
    open_in: OpenPage, own_demo_studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = _open(open_in, own_demo_studio)

    def late(route: "Route") -> None:
        page.wait_for_timeout(600)
        route.continue_()

    page.route("**/casts/record/", late)
    page.select_option("[name=alloy]", label="Bronze")
    page.fill("[name=title]", "a bell")
    page.fill("[name=charge-0-mass]", "44")
    expect(page.locator("#part-charge")).to_have_text("Charge: Bronze")
    expect(page.locator("[name=title]")).to_have_value("a bell")
    expect(page.locator("[name=charge-0-mass]")).to_have_value("44")
    expect(page.locator("#id_charge-0-mass-understood")).to_have_text("44.00\u00a0g")
    expect(page.locator("#balance")).to_contain_text("Charge 44.00\u00a0g.")


@pytest.mark.parametrize("look", [PHONE, DESK], ids=str)
def test_what_is_folded_opens_and_can_be_read(
    open_in: OpenPage, demo_studio: ServedStudio, look: Look
) -> None:
    from playwright.sync_api import expect

    page = open_in(demo_studio, look)
    page.goto("/casts/record/")
    page.select_option("[name=firing]", value="new")
    expect(page.locator("[name=firing_energy]")).to_be_visible()
    expect(page.locator("[name=meter_after]")).to_be_hidden()
    expect(page.locator("button[value=powder]")).to_be_hidden()
    page.evaluate("for (const fold of document.querySelectorAll('details.seldom')) fold.open = true")
    for name in ("water", "spill", "pieces-0-patterns", "crucible", "vacuum", "closed_on", "note"):
        expect(page.locator(f"[name={name}]")).to_be_visible()
    expect(page.locator("button[value=powder]")).to_be_visible()
    check_page(page, by_look=look.on_a_phone)
    page.fill("[name=vacuum]", "93 kPa")
    expect(page.locator("#id_vacuum-understood")).to_have_text("27.5\u00a0inHg")
    page.select_option("[name=firing]", index=0)
    expect(page.locator("[name=firing_energy]")).to_be_hidden()


@pytest.mark.parametrize("look", [PHONE, DESK], ids=str)
def test_the_pieces_of_a_cast_are_weighed_in_one_table(
    open_in: OpenPage, own_demo_studio: ServedStudio, look: Look
) -> None:
    from playwright.sync_api import expect

    page = open_in(own_demo_studio, look)
    page.goto("/pieces/")
    page.click("main p a[href$='/finish/']")
    page.wait_for_load_state("networkidle")
    weights = page.locator(".weighing input.number")
    assert weights.count() > 1
    check_page(page, by_look=look.on_a_phone)
    # A point that slipped is asked about below its row, and the rest of the page stays where it was.
    weights.first.fill("0.5")
    weights.nth(1).fill("some")
    page.click("section.next button.press")
    page.wait_for_load_state("networkidle")
    expect(page.locator(".weighing .errors")).to_contain_text("Write a mass")
    check_page(page, by_look=look.on_a_phone)
    weights.nth(1).fill("")
    page.click("section.next button.press")
    page.wait_for_load_state("networkidle")
    expect(page.locator(".form-errors")).to_contain_text("Is this right?")
    expect(page.locator(".weighing .asked")).to_contain_text("usually lose at most")
    check_page(page, by_look=look.on_a_phone)
    page.check(".asked input")
    page.click("section.next button.press")
    expect(page.locator(".messages")).to_contain_text("The finished weights are written down.")


def test_back_after_saving_offers_nothing_that_was_saved(
    open_in: OpenPage, own_demo_studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = _open(open_in, own_demo_studio)
    page.select_option("[name=firing]", index=0)
    page.fill("[name=charge-0-mass]", "20")
    page.fill("[name=pieces-0-name]", "Pod")
    page.fill("[name=pieces-0-mass]", "8")
    page.fill("[name=back]", "11.9")
    page.click("main button.press:has-text('Record the cast')")
    expect(page.locator("main")).to_contain_text("is written down")
    page.wait_for_load_state("networkidle")
    saved = page.url
    page.go_back()
    page.wait_for_url("**/casts/record/**")
    page.wait_for_load_state("networkidle")
    if page.input_value("[name=back]"):
        # The browser kept the page as it was, key and all: sent again, it says that it was saved.
        page.click("main button.press:has-text('Record the cast')")
        expect(page.locator(".messages")).to_contain_text("Saved already: cast")
        assert page.url == saved
    else:
        expect(page.locator("[name=pieces-0-name]")).to_have_value("")
        expect(page.locator("[name=charge-0-mass]")).to_have_value("")
