"""A fair of thirty pieces, 22 of them sold at odd prices, is written down on a phone in few entries: counted."""

from playwright.sync_api import Page

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS, assert_adds_up, check_page
from tests.counting import CountedHand
from tests.databases import run_beside
from tests.served import ServedStudio

PHONE = LOOKS[0]
MOST_ENTRIES, MOST_SECONDS = 60, 120
THIRTY = """
from datetime import date
from costing.models import Channel
from inventory.models import Lot
from inventory.posting.casting import CastFacts, CastRecord, Portion, post_cast
from inventory.posting.closing import PieceGroup, Weights
lot = Lot.objects.filter(material__alloy__name="Sterling silver", owner=None, void=False, material__kind="metal")
lot = lot.order_by("-holder__quantity").first()
facts = CastFacts("thirty studs", date.today(), lot.material.alloy)
weights = Weights([PieceGroup("Stud", 30_000, 30)], back_mg=1_000)
post_cast(CastRecord(facts=facts, charge=[Portion(lot, 31_000)], weights=weights), None)
Channel.objects.get_or_create(name="Fair table", defaults={"card_pct100": 175, "day_micro": 45_000_000})
"""


def test_a_fair_takes_under_sixty_entries_and_two_minutes(
    open_in: OpenPage, own_demo_studio: ServedStudio
) -> None:
    run_beside(own_demo_studio.database_url, THIRTY)
    page = open_in(own_demo_studio, PHONE)
    page.goto("/sales/out/new/?q=Stud")
    page.wait_for_load_state("networkidle")
    hand = CountedHand(page)
    numbers = page.locator("table.weighing small").all_text_contents()
    cast = numbers[0].split(".")[0]
    # However many pieces there are, the button that ends it is in sight.
    assert page.locator("form .press:has-text('They are out')").evaluate(
        "one => scrollY === 0 && one.getBoundingClientRect().bottom <= innerHeight"
        " && document.documentElement.scrollHeight > innerHeight"
    )
    hand.choose("channel", "Fair table")
    hand.write("name", "Green fair")
    hand.write("numbers", f"{cast}.1-30")
    hand.press("form .press:has-text('They are out')")
    page.wait_for_url("**/sales/out/*/")
    page.wait_for_load_state("networkidle")
    check_page(page)
    names = page.locator("[name^='price_']").evaluate_all("fields => fields.map(field => field.name)")
    assert len(names) == 30
    for place, name in enumerate(names[:22]):
        hand.write(name, f"{21 + place}.50")
    # What was typed outlives the page, and its pieces are ticked.
    page.wait_for_timeout(400)
    page.reload()
    page.wait_for_load_state("networkidle")
    assert page.input_value(f"[name='{names[3]}']") == "24.50"
    hand.write("card_fee", "12.32")
    refuse_a_price(page, names[21])
    hand.press("form .press:has-text('Save what was sold')")
    page.wait_for_load_state("networkidle")
    assert "704.00 GBP paid" in page.inner_text("main").replace("\u00a0", " ")
    check_page(page)
    assert len(hand.entries) < MOST_ENTRIES, hand.entries
    assert hand.seconds < MOST_SECONDS, hand.seconds
    assert_adds_up(own_demo_studio)


def refuse_a_price(page: Page, name: str) -> None:
    """What is no price is told within the width of the page, and what was typed and ticked stays."""
    price, tick = page.locator(f"[name='{name}']"), page.locator(f"[name='{name.replace('price', 'take')}']")
    price.fill("-5")
    page.click("form .press:has-text('Save what was sold')")
    page.wait_for_selector(".weighing .errors")
    page.wait_for_load_state("networkidle")
    check_page(page)
    assert price.input_value() == "-5" and tick.is_checked()
    price.press_sequentially("0")
    price.fill("-5")
    assert tick.is_checked()
    price.fill("42.50")
