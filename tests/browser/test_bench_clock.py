"""The clock at the bench in a real browser: right after a reload, a sleep, and on a phone whose clock is wrong."""

import itertools
import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS, Look, check_page
from tests.databases import Run, run_beside
from tests.served import ServedStudio

if TYPE_CHECKING:
    from playwright.sync_api import Page

PHONE, DESK = LOOKS[0], LOOKS[3]

PLAN = """
from django.utils import timezone
from inventory.models import ChecklistItem
from inventory.posting.planning import post_begin
from tests import workshop as w
from tests.inventory import plans
w.make_studio()
plans.stock(fresh="2000", powder="20000", wax="200")
ChecklistItem.objects.create(text="Face shield on")
for _ in range(12):
    post_begin(plans.plan())
"""
SET_BACK = """
import sys
from datetime import timedelta
from django.db.models import F
from inventory.models import CastMoment
moments = CastMoment.objects.filter(cast__number=sys.argv[1])
moments.update(at=F("at") - timedelta(seconds=int(sys.argv[2])))
"""
TAKE_BACK = """
import sys
from inventory.models import CastMoment
CastMoment.objects.filter(cast__number=sys.argv[1]).delete()
"""
FORTY_LATE = """
import sys
from datetime import timedelta
from django.utils import timezone
from inventory.models import CastingDay
from inventory.posting.turning import note_turn
day = CastingDay.objects.get(pk=sys.argv[1])
on = timezone.now().replace(second=0, microsecond=0) - timedelta(minutes=220)
day.wish_at = on + timedelta(hours=13)
day.save()
note_turn(day, 0, 85, on)
note_turn(day, 1, 150, on + timedelta(minutes=30))
"""
WAKE = "document.dispatchEvent(new Event('visibilitychange'))"


@pytest.fixture(scope="module")
def studio(run: Run, tmp_path_factory: pytest.TempPathFactory) -> "Iterator[ServedStudio]":
    """Casts under way that were planned, each with a day of its own; every test takes one of them."""
    with ServedStudio(run.fresh_sqlite(tmp_path_factory.mktemp("clock"))) as studio:
        studio.session_cookie()
        run_beside(studio.database_url, PLAN)
        yield studio


_numbers = itertools.count(1)


@pytest.fixture
def number() -> int:
    """The number of a cast, and of its casting day, that no other test has touched."""
    return next(_numbers)


def _start(page: "Page", number: int) -> None:
    page.goto(f"/casts/{number}/clock/")
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


@pytest.mark.parametrize("look", [PHONE, DESK], ids=str)
def test_from_the_powder_to_the_last_vacuum(
    open_in: OpenPage, studio: ServedStudio, number: int, look: Look
) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, look)
    page.goto(f"/casts/{number}/clock/")
    check_page(page, by_look=look.on_a_phone)
    _start(page, number)
    _expect_phase(page, "Mix the powder into the water")
    expect(page.locator("[data-following] span")).to_have_text("vacuum on the bowl")
    expect(page.locator("[data-awake]")).to_be_visible()
    check_page(page, by_look=look.on_a_phone)
    page.click("[data-sound]")
    expect(page.locator("[data-sound]")).to_have_attribute("aria-pressed", "true")
    page.click("text=Last vacuum ended")
    expect(page.locator("#phase")).to_have_text("The flask is invested")
    check_page(page, by_look=look.on_a_phone)
    page.click("text=take that back")
    page.click("text=take the start back")
    expect(page.locator(".one-press button")).to_have_text("Powder is in the water")


def test_a_reload_goes_on_where_the_clock_stood(open_in: OpenPage, studio: ServedStudio, number: int) -> None:
    page = open_in(studio, PHONE)
    _start(page, number)
    page.wait_for_timeout(3_000)
    before = _left(page)
    page.reload()
    page.wait_for_timeout(500)
    assert 234 < _left(page) < 240
    assert 0 <= before - _left(page) <= 2


def test_a_phone_whose_clock_is_wrong_shows_the_same(
    open_in: OpenPage, studio: ServedStudio, number: int
) -> None:
    page = open_in(studio, PHONE)
    page.clock.install(time=datetime.now() - timedelta(hours=3, minutes=7))
    _start(page, number)
    _expect_phase(page, "Mix the powder into the water")
    assert 230 < _left(page) <= 240


def test_after_a_sleep_the_phase_is_right_and_over_the_time_it_says_by_how_much(
    open_in: OpenPage, studio: ServedStudio, number: int
) -> None:
    page = open_in(studio, PHONE)
    page.clock.install()
    _start(page, number)
    page.clock.fast_forward(5 * 60_000 + 10_000)
    _expect_phase(page, "Pour into the flask")
    assert 40 <= _left(page) <= 50
    page.clock.fast_forward(4 * 60_000)
    _expect_phase(page, "Over the working time by")
    assert 70 <= _left(page) <= 80
    check_page(page)


def test_a_page_that_wakes_asks_the_server_again(
    open_in: OpenPage, studio: ServedStudio, number: int
) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, PHONE)
    _start(page, number)
    run_beside(studio.database_url, SET_BACK, str(number), "250")
    page.evaluate(WAKE)
    _expect_phase(page, "Vacuum on the bowl")
    run_beside(studio.database_url, TAKE_BACK, str(number))
    page.evaluate(WAKE)
    expect(page.locator(".one-press button")).to_have_text("Powder is in the water")


@pytest.mark.parametrize("look", [PHONE, DESK], ids=str)
def test_the_casting_day_and_its_sheet_can_be_read_by_everyone(
    open_in: OpenPage, studio: ServedStudio, number: int, look: Look
) -> None:
    page = open_in(studio, look)
    for address in ("/days/{0}/", "/casts/{0}/checks/", "/casts/{0}/", "/reports/run-sheet/?casting_day={0}"):
        answer = page.goto(address.format(number))
        assert answer is not None
        assert answer.status == 200
        check_page(page, by_look=look.on_a_phone)


def test_what_is_next_on_the_day_moves_on_by_itself(
    open_in: OpenPage, studio: ServedStudio, number: int
) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, PHONE)
    page.clock.install()
    page.goto(f"/days/{number}/")
    times = page.locator(".moment")
    first = page.inner_text("[data-next]")
    now = datetime.fromisoformat(page.get_attribute("[data-now]", "data-now") or "")
    at = [datetime.fromisoformat(one.get_attribute("data-at") or "") for one in times.all()]
    place = next(number for number, moment in enumerate(at) if moment > now)
    page.clock.fast_forward(int((at[place] - now).total_seconds() * 1000) + 2_000)
    expect(page.locator("[data-next]")).not_to_have_text(first)
    expect(page.locator("[data-current]")).to_have_text(first)
    expect(page.locator(".moment[aria-current] time")).to_have_text(page.inner_text("[data-next-clock]"))


def test_a_kiln_that_was_turned_late_moves_the_day_by_one_tap(
    open_in: OpenPage, studio: ServedStudio, number: int
) -> None:
    from playwright.sync_api import expect

    run_beside(studio.database_url, FORTY_LATE, str(number))
    page, other = open_in(studio, PHONE), open_in(studio, PHONE)
    for phone in (page, other):
        phone.goto(f"/days/{number}/")
        expect(phone.locator("[data-next]")).to_have_text("Turn the kiln up to 225\u00a0°C.")
        expect(phone.locator("[data-left]")).to_have_text(re.compile(r"^4[01]\u00a0min"))
    check_page(page)
    page.click("text=Turned now")
    expect(page.locator(".remark").first).to_contain_text(
        "later: what is left keeps its full holds and climbs."
    )
    expect(page.locator("[data-next]")).to_have_text("Turn the kiln up to 295\u00a0°C.")
    check_page(page)
    # The other phone sees it by itself.
    other.evaluate(WAKE)
    expect(other.locator("[data-next]")).to_have_text("Turn the kiln up to 295\u00a0°C.")


def test_a_line_is_ticked_by_a_touch(open_in: OpenPage, studio: ServedStudio, number: int) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, PHONE)
    page.goto(f"/casts/{number}/checks/")
    page.click(".checks button")
    expect(page.locator(".checks button")).to_have_attribute("aria-pressed", "true")
    check_page(page)
