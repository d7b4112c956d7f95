"""The clock at the bench in a real browser: right after a reload, a sleep, and on a phone whose clock is wrong."""

import re
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS, Look, assert_no_axe_violations, assert_no_sideways_scroll
from tests.databases import run_python
from tests.served import ServedStudio

if TYPE_CHECKING:
    from playwright.sync_api import Page

PHONE, DESK = LOOKS[0], LOOKS[3]
CLOCK = "/casts/1/clock/"

PLAN = """
from django.utils import timezone
from inventory.models import ChecklistItem
from inventory.posting.planning import post_begin
from tests import workshop as w
from tests.inventory import plans
w.make_studio()
plans.stock()
ChecklistItem.objects.create(text="Face shield on")
post_begin(plans.plan())
"""
SET_BACK = """
import sys
from datetime import timedelta
from django.db.models import F
from inventory.models import CastMoment
CastMoment.objects.update(at=F("at") - timedelta(seconds=int(sys.argv[1])))
"""
TAKE_BACK = "from inventory.models import CastMoment; CastMoment.objects.all().delete()"
WAKE = "document.dispatchEvent(new Event('visibilitychange'))"


@pytest.fixture
def studio(empty_studio: ServedStudio) -> ServedStudio:
    """One cast under way that was planned; its last session is that of whoever made it."""
    empty_studio.session_key()
    run_python(empty_studio.database_url, PLAN)
    return empty_studio


def _start(page: "Page") -> None:
    page.goto(CLOCK)
    page.click("text=Powder is in the water")
    page.wait_for_selector("[data-clock]")


def _left(page: "Page") -> int:
    """Seconds that the clock shows."""
    found = re.fullmatch(r"(\d+):(\d\d)", page.inner_text("[data-left]"))
    assert found is not None
    return int(found[1]) * 60 + int(found[2])


def _expect_phase(page: "Page", words: str) -> None:
    from playwright.sync_api import expect

    expect(page.locator("[data-phase]")).to_have_text(words)


def _check(page: "Page") -> None:
    page.wait_for_load_state("networkidle")
    assert_no_axe_violations(page)
    assert_no_sideways_scroll(page)


@pytest.mark.parametrize("look", [PHONE, DESK], ids=str)
def test_from_the_powder_to_the_last_vacuum(open_in: OpenPage, studio: ServedStudio, look: Look) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, look)
    page.goto(CLOCK)
    _check(page)
    _start(page)
    _expect_phase(page, "Mix the powder into the water")
    expect(page.locator("[data-following] span")).to_have_text("vacuum on the bowl")
    expect(page.locator("[data-awake]")).to_be_visible()
    _check(page)
    page.click("[data-sound]")
    expect(page.locator("[data-sound]")).to_have_attribute("aria-pressed", "true")
    page.click("text=Last vacuum ended")
    expect(page.locator("#phase")).to_have_text("The flask is invested")
    _check(page)
    page.click("text=take that back")
    page.click("text=take the start back")
    expect(page.locator(".one-press button")).to_have_text("Powder is in the water")


def test_a_reload_goes_on_where_the_clock_stood(open_in: OpenPage, studio: ServedStudio) -> None:
    page = open_in(studio, PHONE)
    _start(page)
    page.wait_for_timeout(3_000)
    before = _left(page)
    page.reload()
    page.wait_for_timeout(500)
    assert 234 < _left(page) < 240
    assert 0 <= before - _left(page) <= 2


def test_a_phone_whose_clock_is_wrong_shows_the_same(open_in: OpenPage, studio: ServedStudio) -> None:
    page = open_in(studio, PHONE)
    page.clock.install(time=datetime.now() - timedelta(hours=3, minutes=7))
    _start(page)
    _expect_phase(page, "Mix the powder into the water")
    assert 230 < _left(page) <= 240


def test_after_a_sleep_the_phase_is_right_and_over_the_time_it_says_by_how_much(
    open_in: OpenPage, studio: ServedStudio
) -> None:
    page = open_in(studio, PHONE)
    page.clock.install()
    _start(page)
    page.clock.fast_forward(5 * 60_000 + 10_000)
    _expect_phase(page, "Pour into the flask")
    assert 40 <= _left(page) <= 50
    page.clock.fast_forward(4 * 60_000)
    _expect_phase(page, "Over the working time by")
    assert 70 <= _left(page) <= 80
    _check(page)


def test_a_page_that_wakes_asks_the_server_again(open_in: OpenPage, studio: ServedStudio) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, PHONE)
    _start(page)
    run_python(studio.database_url, SET_BACK, "250")
    page.evaluate(WAKE)
    _expect_phase(page, "Vacuum on the bowl")
    run_python(studio.database_url, TAKE_BACK)
    page.evaluate(WAKE)
    expect(page.locator(".one-press button")).to_have_text("Powder is in the water")


@pytest.mark.parametrize("look", [PHONE, DESK], ids=str)
def test_the_casting_day_and_its_sheet_can_be_read_by_everyone(
    open_in: OpenPage, studio: ServedStudio, look: Look
) -> None:
    page = open_in(studio, look)
    for address in ("/days/1/", "/casts/1/checks/", "/casts/1/", "/reports/run-sheet/?casting_day=1"):
        answer = page.goto(address)
        assert answer is not None
        assert answer.status == 200
        _check(page)


def test_what_is_next_on_the_day_moves_on_by_itself(open_in: OpenPage, studio: ServedStudio) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, PHONE)
    page.clock.install()
    page.goto("/days/1/")
    times = page.locator(".moment")
    first = page.inner_text("[data-next]")
    now = datetime.fromisoformat(page.get_attribute("[data-now]", "data-now") or "")
    at = [datetime.fromisoformat(one.get_attribute("data-at") or "") for one in times.all()]
    place = next(number for number, moment in enumerate(at) if moment > now)
    page.clock.fast_forward(int((at[place] - now).total_seconds() * 1000) + 2_000)
    expect(page.locator("[data-next]")).not_to_have_text(first)
    expect(page.locator("[data-current]")).to_have_text(first)
    expect(page.locator(".moment[aria-current] time")).to_have_text(page.inner_text("[data-next-clock]"))


def test_a_line_is_ticked_by_a_touch(open_in: OpenPage, studio: ServedStudio) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, PHONE)
    page.goto("/casts/1/checks/")
    page.click(".checks button")
    expect(page.locator(".checks button")).to_have_attribute("aria-pressed", "true")
    _check(page)
