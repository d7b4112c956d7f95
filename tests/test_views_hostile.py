"""Whatever an address or a form may say: no page answers that the program is broken, and what is refused says so."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from html.parser import HTMLParser
from itertools import product
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

import pytest
from django.db import transaction
from django.template.backends.django import Template
from django.test import Client
from django.urls import Resolver404, URLPattern, get_resolver, resolve
from django.urls.converters import IntConverter
from pytest_django import DjangoDbBlocker

from costing.models import MetalPrice, Policy
from inventory.views.saving import REFUSED
from studio.kit.fields import KEY_DIGITS
from tests import workshop as w
from tests.inventory.test_views_questions import WORDS, Shelf, fill_shelf
from tests.sold import make_sales
from tests.support import once
from tests.test_project import all_patterns
from tests.thorough import TIMES
from tests.workings import FILES

pytestmark = pytest.mark.django_db

# As bytes, the way they come.
TOO_LARGE = b"9223372036854775808"
HALF_A_PAIR = b"\xed\xa0\x80"  # no letter by itself
HOSTILE = [b"-9223372036854775809", b"a\x00b", b"9" * 5000]
#: The first of them is the largest number that leads to a page at all.
IN_ADDRESSES = [
    b"9" * KEY_DIGITS,
    *HOSTILE,
    TOO_LARGE,
    HALF_A_PAIR,
    b"9223372036854775807",
    b"1" + b"0" * 40,
    b"-1",
]
NOT_FORMS = {"once", "csrfmiddlewaretoken", "next"}
#: What Django itself puts into every form of several lines, and reads in one way.
OF_ALL_LINES = re.compile(r".*-(?=(?:TOTAL|INITIAL|MIN_NUM|MAX_NUM)_FORMS$|DELETE$)")


class Forms(HTMLParser):
    """The forms of a page: how and where each is sent, and what stands in its fields; `chosen` are not typed."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.chosen: set[str] = set()
        self.forms: list[tuple[str, str, dict[str, str]]] = []
        self._fields: dict[str, str] = {}
        self._open = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._fields = {}
            self.forms.append((given.get("method", "get").lower(), given.get("action", ""), self._fields))
        elif tag == "option":
            self._choose(self._open, given, "selected")
        elif "name" in given and tag in ("input", "select", "textarea"):
            self._take_field(tag, given)

    def _take_field(self, tag: str, given: dict[str, str]) -> None:
        name, kind = given["name"], given.get("type", tag)
        self._open = "" if tag == "input" else name
        if kind in ("select", "hidden", "number", "checkbox", "radio", "file") or "disabled" in given:
            self.chosen.add(name)
        if kind in ("checkbox", "radio"):
            self._choose(name, given, "checked")
        else:
            self._fields[name] = given.get("value", "")

    def _choose(self, name: str, given: dict[str, str], mark: str) -> None:
        """The first choice that says something, or the one that is marked."""
        if mark in given or not self._fields.get(name):
            self._fields[name] = given.get("value", "on")

    def handle_data(self, data: str) -> None:
        if self._open and self._open not in self.chosen:
            self._fields[self._open] += data

    def handle_endtag(self, tag: str) -> None:
        if tag in ("select", "textarea"):
            self._open = ""


@cache
def forms_of(html: str) -> Forms:
    """Read once for all tests, which change nothing in them."""
    return Forms(html)


@pytest.fixture
def bench(bench: Client) -> Client:
    bench.raise_request_exception = False
    return bench


@pytest.fixture(scope="module")
def shelf(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Shelf]:
    """Made once for all tests of this file and taken back after them; each takes back what it writes itself."""
    with django_db_blocker.unblock(), transaction.atomic():
        w.make_studio()
        yield fill_shelf(1)
        transaction.set_rollback(True)


@contextmanager
def same_cookies(bench: Client) -> Iterator[None]:
    """Who is signed in stays so: a cookie that an answer sets takes the place of the one before, which is kept."""
    cookies = dict(bench.cookies)
    yield
    bench.cookies.clear()
    bench.cookies.update(cookies)


def broken(bench: Client, address: str, body: bytes | None = None) -> str:
    """What broke, or nothing; whatever was written, also who is signed in, is taken back."""
    with transaction.atomic(), same_cookies(bench):
        if body is None:
            answer = bench.get(address)
        else:
            answer = bench.post(address, body, content_type="application/x-www-form-urlencoded")
        transaction.set_rollback(True)
    assert address == "/sign-out/" or not answer.get("Location", "").startswith("/sign-in/")
    if answer.status_code < 500:
        return ""
    return f"{address[:100]} {(body or b'')[:100]!r}: {answer.exc_info and answer.exc_info[1]!r}"


@contextmanager
def undrawn() -> Iterator[None]:
    """Requests are read, judged and posted as ever, and no page is drawn: what comes back was drawn before.

    To draw a page is half the work of answering. STUDIO_THOROUGH=10 draws each.
    """
    with pytest.MonkeyPatch.context() as patch:
        if TIMES == 1:
            patch.setattr(Template, "render", lambda *_: "")
        yield


def patterns() -> list[URLPattern]:
    return list(all_patterns(get_resolver()))


def fill(route: str, given: dict[str, Any]) -> str:
    return "/" + re.sub(r"<\w+:(\w+)>", lambda part: str(given[part[1]]), route)


def records(shelf: Shelf, route: str) -> list[dict[str, Any]]:
    """What stands for the parts of an address, once for each state that its thing can be in."""
    if route.startswith("setup/cost-rules/"):
        return [{"pk": Policy.objects.get_or_create(from_day=w.DAY)[0].pk}]
    if route.startswith("setup/metal-prices/"):
        price = {"alloy": w.sterling(), "day": w.DAY, "price_micro": w.money(1)}
        return [{"pk": MetalPrice.objects.get_or_create(**price)[0].pk}]
    if route.startswith("sales/"):
        return [{"pk": next(row.pk for begins, row in make_sales().items() if route.startswith(begins))}]
    made = w.set_prices()
    folder = route.removeprefix("setup/").split("/")[0]
    return [{"pk": made[folder].pk}] if folder in made else shelf.keys(route)


@pytest.fixture(scope="module")
def pages(shelf: Shelf) -> dict[str, str]:
    """Every page that has a place of its own, or that such a page leads to: its address and what it says."""
    waiting, reader = [], Client()
    reader.force_login(shelf.person)
    for pattern in patterns():
        route, wanted = str(pattern.pattern), pattern.pattern.converters
        for record in records(shelf, route) if {"pk", "number"} & set(wanted) else [{}]:
            waiting.append(fill(route, {**WORDS, "ending": "pdf", "pk": 1, **record}))
    found: dict[str, str] = {}
    shapes = set()
    for address in waiting:
        if address in found:
            continue
        found[address] = ""
        if address.endswith(FILES):
            continue  # no link and no form stands in a file; the tests open each that has an address of its own
        answer = reader.get(address)
        if answer.headers["Content-Type"].startswith("text/html"):
            found[address] = answer.content.decode()
        for led_to in re.findall(r'(?:href|action)="(/[^"?#]*)', found[address]):
            shape = re.sub(r"\d+", "0", led_to)
            if shape not in shapes and not led_to.startswith("/static/"):
                shapes.add(shape)
                waiting.append(led_to)
    return found


def test_every_number_in_an_address_is_one_that_a_database_can_hold() -> None:
    unbounded = [
        str(pattern.pattern)
        for pattern in patterns()
        for converter in pattern.pattern.converters.values()
        if type(converter) is IntConverter
    ]
    assert unbounded == []


def test_no_part_of_an_address_breaks_a_page(bench: Client, shelf: Shelf) -> None:
    found, tried, nowhere = [], 0, set()
    for pattern in patterns():
        route, wanted = str(pattern.pattern), pattern.pattern.converters
        for part, hostile in product(wanted, IN_ADDRESSES):
            given = {**WORDS, "pk": 1, "number": 1, "ending": "pdf", part: quote(hostile)}
            address = fill(route, given)
            if not leads_to_a_page(address):
                # Every such address is answered with the one page for what is not there.
                if hostile in nowhere:
                    continue
                nowhere.add(hostile)
            tried += 1
            found.append(broken(bench, address))
            with undrawn():
                found.append(broken(bench, address, b""))
    assert tried > 100 and len(nowhere) > 5
    assert [each for each in found if each] == []


def leads_to_a_page(address: str) -> bool:
    try:
        resolve(unquote(address))
    except Resolver404:
        return False
    return True


def asked_names() -> set[str]:
    """Every name that the program looks for in an address's question, as it stands in the code."""
    asks = re.compile(r"""GET(?:\.get(?:list)?\(|\[)\s*"(\w+)\"""")
    root = Path(__file__).resolve().parent.parent
    return {
        name
        for app in ("studio", "inventory", "costing")
        for file in (root / app).rglob("*.py")
        for name in asks.findall(file.read_text(encoding="utf-8"))
    }


def named_on(html: str) -> set[str]:
    """The names that the page's own links and forms put into addresses."""
    questions = re.findall(r'href="[^"?]*\?([^"#]+)"', html)
    linked = {name for question in questions for name in re.findall(r"([\w-]+)=", question)}
    return linked | {name for method, _, fields in forms_of(html).forms if method == "get" for name in fields}


def odd_questions(names: list[str], turn: int) -> list[dict[str, bytes]]:
    """What to ask of a page: each name with more digits than Python reads, and with one other odd value.

    The others take turns from page to page; when the tests are to be thorough each page gets all.
    """
    others, digits = [TOO_LARGE, *HOSTILE[:2]], dict.fromkeys(names, HOSTILE[2])
    if TIMES > 1:
        return [digits, *(dict.fromkeys(names, other) for other in others)]
    return [digits, {name: others[(turn + place) % len(others)] for place, name in enumerate(names)}]


@pytest.mark.slow
def test_no_question_in_an_address_breaks_a_page(bench: Client, pages: dict[str, str]) -> None:
    found, everywhere = [], asked_names() | {"page", "sort", "export"}
    assert {"plan", "day", "cast", "kind"} <= everywhere
    # One page for each view is enough: they differ in what is shown, not in what is asked.
    views = {resolve(address).func: address for address in pages}
    for turn, address in enumerate(views.values()):
        own = named_on(pages[address]) - everywhere
        for question in odd_questions(sorted(own | everywhere), turn):
            asked = "&".join(f"{quote(name)}={quote(odd)}" for name, odd in question.items())
            found.append(broken(bench, f"{address}?{asked}"))
        found += [broken(bench, f"{address}?{quote(name)}={TOO_LARGE.decode()}") for name in own]
    assert [each for each in found if each] == []


def written(fields: dict[str, str], **changed: bytes) -> bytes:
    """A form's body, with a new key against sending it twice."""
    kept = {**fields, **once()} if "once" in fields else fields
    parts = {quote(name): quote(changed.get(name, text)) for name, text in kept.items()}
    return "&".join(f"{name}={text}" for name, text in parts.items()).encode()


@pytest.mark.slow
def test_no_field_of_a_form_breaks_a_page(bench: Client, pages: dict[str, str]) -> None:
    found, seen, of_all_lines = [], set(), set()
    for address, html in pages.items():
        found_here = forms_of(html)
        for method, action, fields in found_here.forms:
            names = set(fields) - NOT_FORMS
            target = action or address
            form = (resolve(target).url_name, frozenset(names))
            if method != "post" or form in seen or not names:
                continue  # a lone button has nothing to write in
            seen.add(form)
            first, *others = odd_bodies(names, found_here.chosen)
            found.append(broken(bench, target, written(fields, **first)))
            # Where all else is in order a wrong choice gets further; the first of like lines stands for all.
            chosen = sorted(names & found_here.chosen, reverse=True)
            alone = {re.sub(r"\d+", "", name): name for name in chosen}
            usual = {name: OF_ALL_LINES.sub("", name) for name in alone if OF_ALL_LINES.match(name)}
            others += [
                {name: TOO_LARGE} for like, name in alone.items() if usual.get(like) not in of_all_lines
            ]
            of_all_lines |= set(usual.values()) if TIMES == 1 else set()
            with undrawn():
                found += [broken(bench, target, written(fields, **other)) for other in others]
    assert len(seen) > 50
    assert [each for each in found if each] == []


def odd_bodies(names: set[str], chosen: set[str]) -> Iterator[dict[str, bytes]]:
    """Every field with every odd value; in the first, which is drawn, each choice is a number no database holds."""
    for turn in range(len(HOSTILE)):
        yield {
            name: HOSTILE[(turn + (0 if name in chosen else place)) % len(HOSTILE)]
            for place, name in enumerate(sorted(names))
        }


def sent_back(bench: Client, address: str, body: bytes) -> tuple[int, str]:
    """The status and the page that a form's body is answered with; whatever was written is taken back."""
    with transaction.atomic(), same_cookies(bench):
        answer = bench.post(address, body, content_type="application/x-www-form-urlencoded")
        transaction.set_rollback(True)
    return answer.status_code, answer.content.decode()


@pytest.mark.slow
def test_every_form_that_is_refused_says_so_and_keeps_what_was_typed(
    bench: Client, pages: dict[str, str]
) -> None:
    found, seen = [], set()
    for address, html in pages.items():
        found_here = forms_of(html)
        for method, action, fields in found_here.forms:
            typed = set(fields) - NOT_FORMS - found_here.chosen - {""}
            target = action or address
            form = (resolve(target).url_name, frozenset(typed))
            if method != "post" or form in seen or not typed:
                continue  # a lone button has nothing to write in
            seen.add(form)
            wrong = {
                name: f"wrong {number} ".encode() + b"x" * 5000 for number, name in enumerate(sorted(typed))
            }
            status, page = sent_back(bench, target, written(fields, **wrong))
            shown = {name for name, text in wrong.items() if text.decode() in page}
            lost = {name for name in typed - shown if "password" not in name}
            if status != REFUSED or lost:
                found.append(f"{target}: {status}, lost {sorted(lost)}")
            with undrawn():
                status, _ = sent_back(bench, target, b"")
            if status != REFUSED:
                found.append(f"{target} without a body: {status}")
    assert len(seen) > 40
    assert found == []
