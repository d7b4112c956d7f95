"""Every page of the demo on a narrow phone, a phone and a desk, with names as long as their fields let them be.

The long names stand in a copy of the demo and are words without a gap, which is the worst that a name can be.
"""

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from tests.browser.test_main_path import PAGES
from tests.browser_support import Look, assert_no_axe_violations, open_page, settle
from tests.databases import Run, run_python
from tests.served import ServedStudio

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

WIDTHS_PX = (320, 360, 1280)
#: What an unfinished, an ended and a failed cast show, which one of each page would leave out.
BESIDES = (
    "/casts/27/", "/casts/40/", "/casts/40/cost/", "/casts/41/", "/days/4/", "/plans/3/fact/", "/plans/4/cost/",
)  # fmt: skip
#: The page of a thing with one of its forms open.
_ACTION = re.compile(r"/(casts|pieces|plans|stock/lots)/\d+/[a-z-]+/")
LENGTHEN = """
from inventory import models
from tests.workings import follow_links
from django.contrib.auth.models import User
from django.test import Client

NAMES = (
    "Alloy.name Cast.title ChecklistItem.text Customer.name Equipment.name Lot.kept_in Lot.supplier_batch Material.name"
    " Piece.name Plan.title PlanPart.label Schedule.name Studio.name Supplier.name"
)
for model, field in (name.split(".") for name in NAMES.split()):
    kind = getattr(models, model)
    longest = kind._meta.get_field(field).max_length
    for key in kind.objects.values_list("pk", flat=True):
        kind.objects.filter(pk=key).update(**{field: f"{key}{'Wachsausschmelzform' * 6}"[:min(longest, 100)]})
"""
FOLLOW = """
client = Client(SERVER_NAME="127.0.0.1")
client.force_login(User.objects.order_by("pk").first())
print(*follow_links(client, of_each=1), sep="\\n")
"""


@pytest.fixture(scope="module")
def long_names(
    run: Run, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[ServedStudio, list[str]]]:
    """A demo of long names, and an address of each of its pages."""
    database = run.fresh_sqlite(tmp_path_factory.mktemp("long"), demo=True)
    addresses = run_python(database, LENGTHEN + FOLLOW).split()
    with ServedStudio(database, run.demo_session()) as studio:
        yield studio, [*dict.fromkeys([*addresses, *BESIDES])]


@pytest.mark.parametrize("half", [0, 1])
def test_no_page_moves_sideways_with_long_names(
    browser: "Browser", long_names: tuple[ServedStudio, list[str]], half: int
) -> None:
    studio, addresses = long_names
    assert len(addresses) > 80
    found = []
    with open_page(browser, studio, Look(1280, "dark")) as page:
        for turn, address in enumerate(addresses[half::2]):
            answer = page.goto(address)
            assert answer is not None and answer.status == 200, address
            settle(page)
            found += _too_wide(page, address)
            if address not in PAGES and not _ACTION.fullmatch(
                address
            ):  # axe reads those elsewhere, in both looks
                _let_axe_read(page, turn)
    assert found == []


def _let_axe_read(page: "Page", turn: int) -> None:
    """Every other page on a phone in the light, the others at a desk in the dark."""
    on_a_phone = turn % 2 == 0
    page.emulate_media(color_scheme="light" if on_a_phone else "dark", reduced_motion="reduce")
    page.set_viewport_size({"width": 360 if on_a_phone else 1280, "height": 780})
    assert_no_axe_violations(page)


def _too_wide(page: "Page", address: str) -> list[str]:
    """The widths at which a page goes beyond its right edge, with what stands out there."""
    found = []
    for width in WIDTHS_PX:
        page.set_viewport_size({"width": width, "height": 780})
        beyond = page.evaluate(
            """() => {
                const edge = innerWidth, whole = document.documentElement.scrollWidth;
                if (whole <= edge) return "";
                const out = [...document.querySelectorAll("body *")]
                    .filter((one) => one.getBoundingClientRect().right > edge + 0.5);
                return `${whole} px: ` + (out.length ? out[out.length - 1].outerHTML.slice(0, 200) : "");
            }"""
        )
        if beyond:
            found.append(f"{address} at {width}: {beyond}")
    return found
