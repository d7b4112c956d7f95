"""Every page of the demo on a narrow phone, a phone and a desk, with names as long as their fields let them be.

Each page is loaded once and then made narrower or wider: that is quicker than to load it for each look. The long
names stand in a copy of the demo and are words without a gap, which is the worst that a name can be.
"""

import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.browser.conftest import OneServer
from tests.browser.reading import read_with_axe, take_out
from tests.browser_support import LOOKS, Look, leave_out_what_is_alike, open_page, settle
from tests.databases import Run, run_beside, sqlite_address
from tests.served import ServedStudio

if TYPE_CHECKING:
    from playwright.sync_api import Browser, CDPSession, Page

PHONE, DESK = LOOKS[0], LOOKS[3]
NARROWEST = Look(320, PHONE.scheme)
#: What an unfinished, an ended and a failed cast show, and more that one page of each view would leave out.
BESIDES = (
    "/casts/27/", "/casts/40/", "/casts/40/cost/", "/casts/41/", "/casts/40/finish/", "/days/4/", "/ledger/5/",
    "/pieces/1/", "/pieces/1/cost/?fees=100", "/plans/", "/plans/3/fact/", "/plans/4/cost/", "/setup/schedules/1/",
    "/stock/lots/", "/stock/lots/5/", "/buying/order/?weeks=30&take-3=on&take-4=on&own-4=300",
)  # fmt: skip
#: The page of a thing with one of its forms open.
_ACTION = re.compile(r"/(casts|pieces|plans|stock/lots)/\d+/[a-z-]+/")
LENGTHEN = """
from datetime import date
from django.apps import apps
from django.db.models import CharField, TextField, Value
from django.db.models.functions import Cast, Concat, Left
from django.contrib.auth.models import User
from django.test import Client
from costing.models import Sale
from costing.posting.sales import write_bill
from inventory import guards
from inventory.models import Lot
from inventory.posting.assaying import Assay, post_assay
from tests.workings import follow_links

# What the demo has none of.
post_assay(Assay(Lot.objects.get(pk=100), 920_000, 920_000, by_whom="somebody", paper="7"), date.today())
write_bill(Sale.objects.latest("pk"), "somebody", "somewhere", date.today())


def is_written(field):
    "Whether a person fills it in by their own words: no choice, no code and nothing that the studio itself keeps."
    its_own = bool(field.choices) or field.name == "digest" or (field.max_length or 99) < 40
    return isinstance(field, CharField | TextField) and not its_own


guards.drop_guards()
named = Concat(Cast("pk", CharField()), Value("Wachsausschmelzform" * 6))
for model in apps.get_models():
    if model._meta.app_label in ("inventory", "costing"):
        for field in filter(is_written, model._meta.concrete_fields):
            model.objects.update(**{field.name: Left(named, min(field.max_length or 100, 100))})
guards.install_guards()
"""
FOLLOW = """
client = Client(SERVER_NAME="127.0.0.1")
client.force_login(User.objects.order_by("pk").first())
print(*follow_links(client, of_each=1), sep="\\n")
"""


def _make_long_names(run: Run, file: Path) -> None:
    run.copy_demo(file)
    addresses = run_beside(sqlite_address(file), LENGTHEN + FOLLOW).split()
    file.with_suffix(".json").write_text(json.dumps([*dict.fromkeys([*addresses, *BESIDES])]))


@pytest.fixture(scope="module")
def long_names(run: Run, one_server: OneServer) -> tuple[ServedStudio, list[str]]:
    """A demo of long names, and an address of each of its pages; all workers look at the same one."""
    file = run.folder / "long-names.sqlite3"
    run.once("long-names", lambda: _make_long_names(run, file))
    return one_server.with_a_copy(file), json.loads(file.with_suffix(".json").read_text())


@pytest.mark.slow
@pytest.mark.parametrize("half", [0, 1])
def test_every_page_can_be_read_by_everyone_and_moves_down_only(
    browser: "Browser", long_names: tuple[ServedStudio, list[str]], half: int
) -> None:
    studio, addresses = long_names
    assert len(addresses) > 80
    found, met, taken = [], list[str](), dict[str, dict[str, Any]]()
    with open_page(browser, studio, DESK) as page:
        hand = page.context.new_cdp_session(page)
        page.emulate_media(reduced_motion="reduce")
        for address in addresses[half::2]:
            answer = page.goto(address)
            assert answer is not None and answer.status == 200, address
            settle(page)
            found += _too_wide(page, address, opened=[False])
            # What is folded away is no wider when it is opened.
            _be_held(page, hand, NARROWEST)
            found += _too_wide(page, address, opened=[False, True])
            _be_held(page, hand, PHONE)
            found += _too_wide(page, address, opened=[True, False])
            if address in BESIDES or not _ACTION.fullmatch(address):  # else axe reads the page of the thing
                # Of the first of all that is alike, here and on earlier pages: a desk shows all that a phone does.
                leave_out_what_is_alike(page, met)
                taken[address] = take_out(page)
            _be_held(page, hand, DESK)
        for look in (PHONE, DESK):
            _be_held(page, hand, look)
            page.emulate_media(color_scheme="dark" if look.scheme == "dark" else "light")
            found += read_with_axe(page, taken, by_look=look.on_a_phone)
    assert found == []


def _be_held(page: "Page", hand: "CDPSession", look: Look) -> None:
    """Make an open page narrow or wide, and for a finger or a mouse."""
    hand.send("Emulation.setTouchEmulationEnabled", {"enabled": look.on_a_phone})
    page.set_viewport_size({"width": look.width, "height": 780})


def _too_wide(page: "Page", address: str, *, opened: list[bool]) -> list[str]:
    """Where a page goes beyond its right edge, with what stands out there; with what opens as it was, or opened."""
    beyond = page.evaluate(
        """(opened) => opened.flatMap((open) => {
            for (const fold of document.querySelectorAll("main details")) {
                fold.dataset.was ??= fold.open;
                fold.open = open || fold.dataset.was === "true";
            }
            const edge = innerWidth, whole = document.documentElement.scrollWidth;
            if (whole <= edge) return [];
            const out = [...document.querySelectorAll("body *")]
                .filter((one) => one.getBoundingClientRect().right > edge + 0.5);
            return [`at ${edge}: ${whole} px: ` + (out.length ? out[out.length - 1].outerHTML.slice(0, 200) : "")];
        })""",
        opened,
    )
    return [f"{address} {fault}" for fault in beyond]
