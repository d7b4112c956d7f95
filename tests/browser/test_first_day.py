"""A studio's first day on a phone: from nothing to the first cast, counted."""

import re
from typing import TYPE_CHECKING

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS, assert_adds_up, assert_no_sideways_scroll, check_page
from tests.counting import CountedHand
from tests.served import ServedStudio

if TYPE_CHECKING:
    from playwright.sync_api import Page

PHONE = LOOKS[0]
#: From the set-up page to stock on the shelf, and with the first cast: entries as they were when this was written.
MOST_TO_SHELF, MOST_TO_CAST = 16, 24


def test_from_nothing_to_the_first_cast(open_in: OpenPage, empty_studio: ServedStudio) -> None:
    from playwright.sync_api import expect

    page = open_in(empty_studio, PHONE, signed_in=False)
    page.goto(f"/welcome/?key={empty_studio.welcome_key()}")
    for name, text in (("name", "Heron Lane studio"), ("username", "mara")):
        page.fill(f"[name={name}]", text)
    for name in ("password1", "password2"):
        page.fill(f"[name={name}]", "wax and grain 925")
    page.press("text=Begin", "Enter")
    page.wait_for_url(re.compile("/setup/$"))
    check_page(page)
    hand = CountedHand(page)
    _set_up(hand)
    _fill_shelf(hand)
    assert len(hand.entries) <= MOST_TO_SHELF, hand.entries
    _record(hand)
    expect(page.locator("main")).to_contain_text("is written down")
    assert len(hand.entries) <= MOST_TO_CAST, hand.entries
    assert_adds_up(empty_studio)


def _press_on(hand: CountedHand, selector: str, address: str) -> None:
    hand.press(selector)
    hand.page.wait_for_url(re.compile(address))
    check_page(hand.page, by_look=True)


def _set_up(hand: CountedHand) -> None:
    """Each form leads to the next."""
    save = "main button.press"
    _press_on(hand, "text=I cast silver", "/setup/suppliers/new/")
    hand.write("name", "Marsh Gate Metals")
    _press_on(hand, save, "/setup/equipment/new/kiln/")
    _press_on(hand, save, "/setup/equipment/new/flask/")
    hand.write("diameter_um", "75")
    hand.write("height_um", "100")
    _press_on(hand, save, "/setup/equipment/new/crucible/")
    _press_on(hand, save, "/stock/opening/")


def _fill_shelf(hand: CountedHand) -> None:
    """A tin of grain, a tub of powder and the jar of old buttons; there is no wax."""
    place = {_material(hand.page, number): number for number in range(4)}
    grain, powder, empty = (place[word] for word in ("Sterling 925 grain", "Investment powder", "Choose"))
    hand.write(f"lines-{grain}-quantity", "100")
    hand.write(f"lines-{grain}-cost", "90")
    hand.write(f"lines-{powder}-quantity", "5 kg")
    hand.write(f"lines-{powder}-cost", "20")
    hand.choose(f"lines-{empty}-material", "Sterling 925, buttons and sprues")
    hand.write(f"lines-{empty}-quantity", "60")
    hand.write(f"lines-{empty}-cost", "45")
    assert_no_sideways_scroll(hand.page)
    _press_on(hand, "main button.press", "/stock/$")


def _material(page: "Page", number: int) -> str:
    return page.locator(f"[name=lines-{number}-material] option:checked").inner_text()


def _record(hand: CountedHand) -> None:
    hand.page.goto("/casts/record/")
    hand.write("title", "fern studs")
    hand.write("powder-0-mass", "560")
    hand.choose("charge-0-what", "grain")
    hand.write("charge-0-mass", "60")
    hand.write("pieces-0-name", "Fern stud")
    hand.write("pieces-0-mass", "39.1")
    hand.write("back", "20.4")
    hand.press("main button.press:has-text('Record the cast')")
    hand.page.wait_for_url(re.compile("/casts/1/"))
