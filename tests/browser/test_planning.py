"""Planning a cast in a real browser: the sums appear while it is typed, and the plan leads on to its cast."""

import pytest

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS, Look, check_page
from tests.databases import run_beside
from tests.served import ServedStudio

PHONE, DESK = LOOKS[0], LOOKS[3]
WRITE_SCHEDULE = """
from inventory.models import Schedule
if not Schedule.objects.exists():
    made = Schedule.objects.create(name="Small flasks, 13 hours")
    for place, (target, climb, hold) in enumerate([(150, 60, 120), (730, 300, 240), (600, 30, 30)]):
        made.steps.create(place=place, target_c=target, climb_minutes=climb, hold_minutes=hold)
"""


@pytest.mark.parametrize("look", [PHONE, DESK], ids=str)
def test_a_cast_is_planned_changed_and_begun(
    open_in: OpenPage, own_demo_studio: ServedStudio, look: Look
) -> None:
    from playwright.sync_api import expect

    run_beside(own_demo_studio.database_url, WRITE_SCHEDULE)
    page = open_in(own_demo_studio, look)
    page.goto("/plans/new/")
    page.fill("input[name=parts-0-label]", "Fern leaf")
    page.fill("input[name=parts-0-count]", "4")
    page.fill("input[name=parts-0-mass]", "3,2")
    page.fill("input[name=sprues]", "2.4")
    sums = page.locator("#sums")
    expect(sums).to_contain_text("All that it needs is here")
    expect(sums).to_contain_text("Powder into the water")
    check_page(page, by_look=look.on_a_phone)
    page.click("button:has-text('Plan the cast')")
    expect(page.locator("h1")).to_have_text("Plan: 4 × Fern leaf")
    check_page(page, by_look=look.on_a_phone)
    page.click("text=Change the charge")
    page.locator("form input.number").first.fill("9 kg")
    expect(page.locator("#sums")).to_contain_text("This cannot be saved as it is.")
    check_page(page, by_look=look.on_a_phone)
    page.click("text=Leave it")
    page.click("text=Begin the cast")
    expect(page.locator("#open-task")).to_have_text("Weigh the tree")
    expect(page.locator("[name=tree-0-quantity]")).to_have_value("5.6 g")
    check_page(page, by_look=look.on_a_phone)


def test_one_tap_moves_the_third_day_on_the_kiln_to_where_it_fits(
    open_in: OpenPage, own_demo_studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = open_in(own_demo_studio, PHONE)
    page.goto("/")
    page.click("text=When it fits")
    taken = page.locator("section", has=page.locator("#taken-heading"))
    expect(taken).to_contain_text("is taken by")
    check_page(page, by_look=True)
    # The one that is offered first.
    taken.locator("button.press").click()
    expect(page.locator("main")).to_contain_text("The day is moved")
    expect(page.locator("#taken-heading")).to_have_count(0)
    page.goto("/")
    expect(page.locator("text=When it fits")).to_have_count(0)
