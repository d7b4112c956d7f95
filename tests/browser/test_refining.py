"""On a phone: a batch for the refiner is ticked, sent, and settled partly as metal; a customer's metal is topped up."""

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS, assert_no_sideways_scroll, check_page
from tests.served import ServedStudio


def test_a_batch_is_sent_and_settled_on_a_phone(open_in: OpenPage, own_demo_studio: ServedStudio) -> None:
    from playwright.sync_api import expect

    page = open_in(own_demo_studio, LOOKS[0])
    page.goto("/stock/")
    page.tap("text=At the refiner")
    page.tap("text=Send a batch")
    page.tap("text=Silver, the studio's own")
    page.fill("[name=price]", "33.50")
    page.locator("[name^=all_]").first.tap()
    expect(page.locator("#ahead")).to_contain_text("would be left")
    expect(page.locator("#ahead")).to_contain_text("Not yet: they take 25.00\u00a0g at least")
    check_page(page)
    # The sum is still asked for while another refiner is chosen, a lot is ticked and the batch is sent.
    page.route("**/batches/ahead/**", lambda answer: None)
    page.select_option("[name=refiner]", index=0)
    page.select_option("[name=refiner]", label="Kestrel Mill Refining")
    page.locator("[name^=all_]").nth(2).tap()
    page.tap("button.press")
    page.wait_for_load_state("networkidle")
    expect(page.locator(".lead")).to_contain_text("9.60\u00a0g at the refiner")
    expect(page.locator("h1")).to_contain_text("Batch 2, silver for Kestrel Mill Refining")
    assert_no_sideways_scroll(page)
    page.tap("text=Write down their settlement")
    page.fill("[name=melted]", "9.3")
    page.fill("[name=assay]", "921.5")
    page.select_option("[name=metals-0-what]", label="Fine silver grain, 999 of 1000")
    page.fill("[name=metals-0-mass]", "4")
    expect(page.locator("#ahead .answer")).to_contain_text("GBP")
    check_page(page)
    page.tap("button.press")
    page.wait_for_load_state("networkidle")
    expect(page.locator(".lead")).to_have_text("Settled.")
    expect(page.locator("main")).to_contain_text("Fine silver grain came back as metal.")
    check_page(page)


def test_a_customer_is_topped_up_and_reads_the_statement_on_a_phone(
    open_in: OpenPage, own_demo_studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = open_in(own_demo_studio, LOOKS[0])
    page.goto("/stock/lots/?origin=bought")
    page.get_by_role("row", name="Sterling grain").get_by_role("link").first.tap()
    page.get_by_text("Pass it to a customer", exact=True).tap()
    page.select_option("#id_pass-on_customer", label="Wren Hallow")
    page.fill("#id_pass-on_quantity", "5")
    page.fill("#id_pass-on_price", "9")
    check_page(page)
    page.get_by_role("button", name="It becomes theirs").tap()
    page.wait_for_load_state("networkidle")
    expect(page.locator(".messages")).to_contain_text("5.00\u00a0g are Wren Hallow's now")
    page.goto("/setup/customers/")
    page.get_by_role("link", name="Wren Hallow").tap()
    page.get_by_role("link", name="Statement of their metal").tap()
    page.wait_for_load_state("networkidle")
    expect(page.locator("main")).to_contain_text("5.00")
    check_page(page)
