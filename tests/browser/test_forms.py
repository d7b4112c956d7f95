"""What a form does by itself in a real browser, while a person writes in it."""

import re
from typing import TYPE_CHECKING

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS, assert_no_axe_violations, assert_no_sideways_scroll
from tests.served import ServedStudio

if TYPE_CHECKING:
    from playwright.sync_api import Page

PHONE, DESK = LOOKS[0], LOOKS[3]


def _add_line(page: "Page") -> None:
    page.focus("button[name=add_line]")
    page.keyboard.press("Enter")
    page.wait_for_load_state("networkidle")


def test_another_line_is_added_in_place_and_all_lines_are_saved(
    open_in: OpenPage, own_demo_studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = open_in(own_demo_studio, PHONE)
    page.goto("/buying/deliveries/new/")
    page.select_option("[name=supplier]", index=1)
    page.select_option("[name=lines-0-material]", label="Silver ear wires")
    page.fill("[name=lines-0-quantity]", "20")
    page.fill("[name=lines-0-price]", "9.50")
    page.evaluate("document.body.dataset.stays = 'yes'")
    _add_line(page)
    expect(page.locator("[name=lines-1-material]")).to_be_focused()
    expect(page.locator("[name=lines-0-quantity]")).to_have_value("20")
    expect(page.locator("body")).to_have_attribute("data-stays", "yes")
    assert_no_axe_violations(page)
    assert_no_sideways_scroll(page)
    page.select_option("[name=lines-1-material]", label="Sterling grain")
    page.fill("[name=lines-1-quantity]", "2 ozt")
    expect(page.locator("#id_lines-1-quantity-understood")).to_have_text("62.207\u00a0g")
    page.fill("[name=lines-1-price]", "55")
    page.click("button.press")
    page.wait_for_load_state("networkidle")
    expect(page.locator("main")).to_contain_text("The delivery is in stock.")
    expect(page.locator("main tfoot")).to_contain_text("64.50")
    # An order of which some came already opens with what is still to come of it.
    page.goto("/buying/orders/1/")
    assert_no_axe_violations(page)
    page.click("main a.press")
    page.wait_for_url("**/receive/")
    expect(page.locator("[name=lines-0-quantity]")).to_have_value("40")
    assert_no_sideways_scroll(page)
    page.click("button.press")
    page.wait_for_load_state("networkidle")
    expect(page.locator("main")).to_contain_text("the order is done")


def test_another_line_is_added_without_a_script_too(open_in: OpenPage, demo_studio: ServedStudio) -> None:
    from playwright.sync_api import expect

    page = open_in(demo_studio, DESK)
    page.route("**/*.js", lambda route: route.fulfill(body="", content_type="text/javascript"))
    page.goto("/casts/record/")
    page.fill("input[name=title]", "a leaf ring")
    page.click("button[name=add_line][value=charge]")
    page.wait_for_load_state("networkidle")
    expect(page.locator("[name=charge-2-what]")).to_be_focused()
    expect(page.locator("input[name=title]")).to_have_value("a leaf ring")


def test_a_step_of_a_cast_adds_a_line_from_the_page_of_the_cast(
    open_in: OpenPage, own_demo_studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = open_in(own_demo_studio, DESK)
    page.goto("/casts/start/")
    page.fill("input[name=title]", "a leaf ring")
    page.click("main button.press")
    page.wait_for_load_state("networkidle")
    _add_line(page)
    expect(page.locator("[name=tree-1-what]")).to_be_focused()


def test_an_older_mistake_goes_when_the_field_is_typed_again(
    open_in: OpenPage, demo_studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = open_in(demo_studio, PHONE)
    page.goto("/casts/record/")
    page.fill("input[name=back]", "3.1 oz")
    page.click("main button.press")
    page.wait_for_load_state("networkidle")
    back, mistake, line = (page.locator(css) for css in ("#id_back", "#id_back_error", "#id_back-understood"))
    expect(back).to_have_accessible_description(re.compile("Ounces troy"))
    expect(back).to_have_css("border-top-width", "2px")
    back.fill("3.1 stone")
    expect(mistake).to_have_count(0)
    expect(line).to_contain_text("cannot be read")
    expect(back).to_have_attribute("aria-invalid", "true")
    assert_no_axe_violations(page)
    back.fill("3.1 g")
    expect(line).to_have_text("3.10\u00a0g")
    expect(back).not_to_have_attribute("aria-invalid", "true")
    expect(back).to_have_css("border-top-width", "1px")
    expect(back).to_have_accessible_description("3.10\u00a0g")


def test_a_needed_field_that_is_emptied_keeps_its_mistake(
    open_in: OpenPage, demo_studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = open_in(demo_studio, DESK)
    page.goto("/stock/handed-in/")
    page.fill("input[name=mass]", "0")
    page.click("main button.press")
    page.wait_for_load_state("networkidle")
    with page.expect_response("**/understood/**"):
        page.fill("input[name=mass]", "")
    expect(page.locator("#id_mass_error")).to_have_text("Write more than 0.")
    page.fill("input[name=mass]", "0 g")
    expect(page.locator("#id_mass-understood")).to_have_text("Write more than 0.")
    expect(page.locator("#id_mass_error")).to_have_count(0)
    expect(page.locator("#id_mass")).to_have_attribute("aria-invalid", "true")


def test_what_was_saved_is_said_clear_of_the_line_below(open_in: OpenPage, demo_studio: ServedStudio) -> None:
    page = open_in(demo_studio, PHONE)
    page.goto("/setup/alloys/")
    page.click("main tbody a")
    page.click("main button.press")
    page.wait_for_load_state("networkidle")
    said, lead = (page.locator(css).bounding_box() for css in (".message", ".lead"))
    assert said is not None and lead is not None
    assert lead["y"] - (said["y"] + said["height"]) >= 12


def test_a_copy_is_handed_over_as_often_as_it_is_asked_for(
    open_in: OpenPage, demo_studio: ServedStudio
) -> None:
    page = open_in(demo_studio, PHONE)
    page.goto("/setup/copy/")
    assert_no_axe_violations(page)
    assert_no_sideways_scroll(page)
    for _ in range(2):
        with page.expect_download() as download:
            page.click("main button.press")
        assert re.fullmatch(r"studio-[\d-]+\.sqlite3", download.value.suggested_filename)
