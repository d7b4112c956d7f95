"""A lot of unknown fineness on a phone: weighed in water, assayed, and what follows is shown before it is written."""

from typing import TYPE_CHECKING

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS, check_page
from tests.databases import run_beside
from tests.served import ServedStudio

if TYPE_CHECKING:
    from playwright.sync_api import Page

#: A jar in the demo, half of which was cast.
JAR = """
from datetime import date
from inventory.models import Alloy
from inventory.posting.casting import CastFacts, CastRecord, Portion, post_cast
from inventory.posting.closing import PieceGroup, Weights
from inventory.posting.setup import reclaim_material
from inventory.posting.stock import OpeningLot, post_opening
from django.utils import timezone
sterling, today = Alloy.objects.get(metal="silver", fineness=925), timezone.localdate()
lot = post_opening(OpeningLot(reclaim_material(sterling), 60_000, 0, "clean", guess=(800_000, 925_000)), today)
weights = Weights([PieceGroup("Fern leaf", 20_000)], 9_900, as_it_is=True)
post_cast(CastRecord(CastFacts("fern leaf", today, sterling), [Portion(lot, 30_000)], weights))
print(lot.pk)
"""


def test_a_jar_is_weighed_in_water_and_assayed(open_in: OpenPage, own_demo_studio: ServedStudio) -> None:
    from playwright.sync_api import expect

    lot = run_beside(own_demo_studio.database_url, JAR).strip()
    page: Page = open_in(own_demo_studio, LOOKS[0])
    page.goto(f"/stock/lots/{lot}/")
    page.get_by_role("link", name="Write down an assay").click()
    page.get_by_text("Weighed in air and in water").click()
    page.fill("[name=air]", "10")
    page.fill("[name=water]", "9.03")
    page.get_by_role("button", name="Work out a guess").click()
    expect(page.get_by_text("That stands as the guess above now.")).to_be_visible()
    check_page(page)
    page.fill("[name=guess]", "")
    page.fill("[name=measured]", "880")
    page.check("[name=goes_on]")
    page.get_by_role("button", name="See what changes").click()
    expect(page.get_by_role("heading", name="This would be put right")).to_be_visible()
    expect(page.get_by_role("rowheader", name="Fern leaf")).to_be_visible()
    check_page(page)
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("880 of 1000, assayed")).to_be_visible()
    check_page(page)
