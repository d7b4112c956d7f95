"""Every page is visited, and judged by many tests: what it asks of the database, and how it prints weights.

Whatever an address or a form may say: no page answers that the program is broken, and what is refused says so.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from html.parser import HTMLParser
from itertools import product
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import quote, unquote

import pytest
from django.contrib.auth.models import User
from django.db import connection, transaction
from django.forms.forms import BaseForm
from django.http import QueryDict
from django.template.backends.django import Template
from django.test import Client
from django.urls import Resolver404, URLPattern, get_resolver, resolve
from django.urls.converters import IntConverter
from pytest_django import DjangoDbBlocker

from costing.models import MetalPrice, Policy
from inventory.models import Studio
from inventory.views.saving import REFUSED
from studio.kit.fields import KEY_DIGITS
from tests import workshop as w
from tests.inventory.test_views_questions import WORDS, Shelf, addresses, fill_shelf
from tests.looked_for import noted
from tests.sold import make_sales
from tests.support import once
from tests.test_project import all_patterns
from tests.test_views_decimals import columns_of_weights, pages_of, shares_finer_than_the_scale
from tests.thorough import TIMES
from tests.workings import FILES

# All of them slow, so that one worker visits the pages for all.
pytestmark = [pytest.mark.django_db, pytest.mark.slow]

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


class Visited(NamedTuple):
    """What a page said, how often it asked the database, and whether it looked at the question of its address."""

    html: str = ""
    status: int = 0
    asked: int = 0
    takes_questions: bool = True


def visit(reader: Client, address: str) -> Visited:
    asked = []

    def count(execute: Any, sql: str, *args: Any) -> Any:
        asked.append(sql)
        return execute(sql, *args)

    with noted() as looked_for, connection.execute_wrapper(count):
        answer = reader.get(address)
    html = answer.content.decode() if answer.get("Content-Type", "").startswith("text/html") else ""
    return Visited(html, answer.status_code, len(asked), looked_for.is_question_used)


@pytest.fixture(scope="module")
def pages(shelf: Shelf) -> dict[str, Visited]:
    """Every page that has a place of its own, or that such a page leads to, by its address."""
    waiting, reader = [], Client()
    reader.force_login(User.objects.create_user("Reader"))
    for pattern in patterns():
        route, wanted = str(pattern.pattern), pattern.pattern.converters
        for record in records(shelf, route) if {"pk", "number"} & set(wanted) else [{}]:
            waiting.append(fill(route, {**WORDS, "ending": "pdf", "pk": 1, **record}))
    own, shapes = set(waiting), set[str]()
    found: dict[str, Visited] = {}
    for address in waiting:
        if address in found:
            continue
        # No link and no form stands in a file; the tests open each that has an address of its own.
        is_passed_over = address.endswith(FILES) and address not in own
        found[address] = Visited() if is_passed_over else visit(reader, address)
        for led_to in re.findall(r'(?:href|action)="(/[^"?#]*)', found[address].html):
            shape = re.sub(r"\d+", "0", led_to)
            if shape not in shapes and not led_to.startswith("/static/"):
                shapes.add(shape)
                waiting.append(led_to)
    return found


# Of each thing; casts times portions times pieces, so that the work grows with its cube.
MUCH = 3


@pytest.fixture(scope="module")
def full_pages(pages: dict[str, Visited]) -> dict[str, Visited]:
    """The pages with a place of their own of a studio with much, by their name and the state of what they show.

    Its scale shows tenths of a gram, of which some weights are a share.
    """
    with transaction.atomic():
        shelf, cast, reader = fill_shelf(MUCH), shares_finer_than_the_scale(), Client()
        reader.force_login(User.objects.get(username="Reader"))
        Studio.objects.update(scale_division_mg=100)
        more = pages_of(cast)
        found = {
            name: visit(reader, address)
            for name, address in [*addresses(shelf), *zip(more, more, strict=True)]
        }
        transaction.set_rollback(True)
    return found


def test_every_page_answers_and_asks_as_much_of_a_full_studio_as_of_a_small_one(
    shelf: Shelf, pages: dict[str, Visited], full_pages: dict[str, Visited]
) -> None:
    few = {name: pages[address] for name, address in addresses(shelf)}
    assert {page.status for page in pages.values()} <= {0, 200, 204, 302, 404, 405}
    compared = {name: [(page.status, page.asked) for page in (few[name], full_pages[name])] for name in few}
    assert {name: both for name, both in compared.items() if both[0] != both[1]} == {}
    assert len(compared) > 100


def test_one_number_of_decimals_in_a_column(full_pages: dict[str, Visited]) -> None:
    found = {
        (name, where): weights
        for name, page in full_pages.items()
        if page.status == 200
        for where, weights in columns_of_weights(page.html)
    }
    odd = {
        where: weights
        for where, weights in found.items()
        if any(len(text.split()[0].partition(".")[2]) != 1 for text in weights)
    }
    assert odd == {}
    assert len(found) > 30


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


def test_no_question_in_an_address_breaks_a_page(bench: Client, pages: dict[str, Visited]) -> None:
    """A page that does not look at the question says the same to all of them: it was opened without one."""
    found, everywhere = [], asked_names() | {"page", "sort", "export"}
    assert {"plan", "day", "cast", "kind"} <= everywhere
    # One page for each view is enough: they differ in what is shown, not in what is asked.
    views = {resolve(address).func: address for address in pages}
    asking = [address for address in views.values() if pages[address].takes_questions or TIMES > 1]
    for turn, address in enumerate(asking):
        own = named_on(pages[address].html) - everywhere
        with noted() as looked_for:
            for question in odd_questions(sorted(own | everywhere), turn):
                asked = "&".join(f"{quote(name)}={quote(odd)}" for name, odd in question.items())
                found.append(broken(bench, f"{address}?{asked}"))
        alone = own & looked_for.names if TIMES == 1 else own
        found += [broken(bench, f"{address}?{quote(name)}={TOO_LARGE.decode()}") for name in alone]
    assert len(asking) > 60
    assert [each for each in found if each] == []


@dataclass(frozen=True)
class SentForm:
    """A form of a page: where it is sent, what stands in its fields, and which of them are not typed."""

    target: str
    fields: dict[str, str]
    chosen: set[str]

    @property
    def names(self) -> list[str]:
        return sorted(set(self.fields) - NOT_FORMS - {""})

    def all_as(self, odd: bytes) -> dict[str, bytes]:
        """One value in every field; how many lines there are stays, or none would be read."""
        return {name: odd for name in self.names if not OF_ALL_LINES.match(name)}

    def lines_of_django(self) -> dict[str, str]:
        """What Django adds to a form of several lines, by what it is."""
        return {OF_ALL_LINES.sub("", name): name for name in self.names if OF_ALL_LINES.match(name)}

    def body(self, changed: dict[str, bytes]) -> bytes:
        """What is sent: no line is taken out, and the key against sending it twice is new."""
        kept = {name: text for name, text in self.fields.items() if not name.endswith("-DELETE")}
        kept |= once() if "once" in kept else {}
        return "&".join(f"{quote(name)}={quote(text)}" for name, text in {**kept, **changed}.items()).encode()


@pytest.fixture(scope="module")
def forms(pages: dict[str, Visited]) -> list[SentForm]:
    """Every form that is sent, once for each set of fields. A lone button has nothing to write in."""
    found: dict[tuple[str, frozenset[str]], SentForm] = {}
    for address, page in pages.items():
        on_page = forms_of(page.html)
        for method, action, fields in on_page.forms:
            form = SentForm(action or address, fields, on_page.chosen & set(fields))
            if method == "post" and form.names:
                found.setdefault((resolve(form.target).url_name or "", frozenset(form.names)), form)
    return list(found.values())


def odd_body(form: SentForm, turn: int) -> bytes:
    """Every field with an odd value, another in each turn."""
    return form.body(
        {name: HOSTILE[(turn + place) % len(HOSTILE)] for place, name in enumerate(form.all_as(b""))}
    )


def test_no_field_of_a_form_breaks_a_page(bench: Client, forms: list[SentForm]) -> None:
    """Each form is sent with one odd value in every field; what read it then reads the others.

    Where a name is looked for by more than a form's own field all of them are sent.
    """
    found, of_all_lines = [], set[str]()
    for form in forms:
        first, *others = [odd_body(form, turn) for turn in range(len(HOSTILE))]
        with undrawn():
            with noted() as looked_for:
                found.append(broken(bench, form.target, first))
            owned = {read.add_prefix(name) for read in looked_for.forms for name in read.fields}
            is_read_by_hand = looked_for.by_hand & set(form.names) or set(form.names) - owned
            if is_read_by_hand or TIMES > 1:
                found += [broken(bench, form.target, other) for other in others]
            else:
                found += [read_again(read, other)[1] for other in others for read in looked_for.forms]
            too_large = [read_again(read, form.body(form.all_as(TOO_LARGE))) for read in looked_for.forms]
            found += [broke for _, broke in too_large]
            alone = let_in(form, set[str]().union(*(refused for refused, _ in too_large)))
            alone += [name for what, name in form.lines_of_django().items() if what not in of_all_lines]
            of_all_lines |= set(form.lines_of_django()) if TIMES == 1 else set()
            found += [broken(bench, form.target, form.body({name: TOO_LARGE})) for name in alone]
    assert len(forms) > 100
    assert [each for each in found if each] == []


def let_in(form: SentForm, refused: set[str]) -> list[str]:
    """The choices that no field refused as a number that no database holds; the first of like lines.

    Where all else is in order such a choice gets further.
    """
    left = (form.chosen & set(form.all_as(b""))) - (refused if TIMES == 1 else set())
    return list({re.sub(r"\d+", "", name): name for name in sorted(left, reverse=True)}.values())


def read_again(form: BaseForm, body: bytes) -> tuple[set[str], str]:
    """Have a form read another body: the names of the fields that it refuses, and what broke."""
    form.data = QueryDict(body)
    try:
        with transaction.atomic():
            form.full_clean()
            transaction.set_rollback(True)
    except Exception as error:  # whatever it is, the page would have answered that it is broken
        return set(), f"{type(form).__name__} {body[:100]!r}: {error!r}"
    return {form.add_prefix(name) for name in form.errors if name in form.fields}, ""


def sent_back(bench: Client, address: str, body: bytes) -> tuple[int, str]:
    """The status and the page that a form's body is answered with; whatever was written is taken back."""
    with transaction.atomic(), same_cookies(bench):
        answer = bench.post(address, body, content_type="application/x-www-form-urlencoded")
        transaction.set_rollback(True)
    return answer.status_code, answer.content.decode()


def test_every_form_that_is_refused_says_so_and_keeps_what_was_typed(
    bench: Client, forms: list[SentForm]
) -> None:
    """What is typed is odd, and each choice is a number that no database holds."""
    found = []
    for form in forms:
        typed = [name for name in form.names if name not in form.chosen]
        if not typed:
            continue
        # Digits without end come first, which no field takes; each text is met once in the page.
        wrong = {
            name: HOSTILE[place % len(HOSTILE) - 1] + f"{place:03}".encode()
            for place, name in enumerate(typed)
        }
        status, page = sent_back(bench, form.target, form.body(form.all_as(TOO_LARGE) | wrong))
        lost = {name for name, text in wrong.items() if text.decode() not in page and "password" not in name}
        if status != REFUSED or lost:
            found.append(f"{form.target}: {status}, lost {sorted(lost)}")
    assert found == []


def test_a_form_without_a_body_is_refused(bench: Client, forms: list[SentForm]) -> None:
    """Once for each address: where nothing is sent its fields make no difference."""
    with undrawn():
        answers = {
            form.target: sent_back(bench, form.target, b"")[0]
            for form in forms
            if set(form.names) - form.chosen
        }
    assert {target: status for target, status in answers.items() if status != REFUSED} == {}
