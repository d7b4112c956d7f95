"""What browser tests share: the browser, the four looks, and what every page must hold."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from tests.databases import run_beside
from tests.served import ServedStudio
from tests.tools import find_chromium

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
#: What may be wrong in one width or light and right in another; the rest of a page is the same in all.
BY_LOOK = ["color-contrast", "link-in-text-block", "scrollable-region-focusable", "target-size"]
#: What axe finds wrong, a text for each rule.
RUN_AXE = """async (options) => (await axe.run(options)).violations.map(({id, help, nodes}) =>
    [`${id}: ${help}`, ...nodes.map((node) => node.html)].join("\\n    "))"""


@dataclass(frozen=True)
class Look:
    """How wide the page is, and in which light."""

    width: int
    scheme: str

    def __str__(self) -> str:
        return f"{self.width}-{self.scheme}"

    @property
    def on_a_phone(self) -> bool:
        return self.width < 600


LOOKS = [Look(width, scheme) for width in (360, 1280) for scheme in ("light", "dark")]


@contextmanager
def open_browser() -> "Iterator[Browser]":
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_chromium(), args=ARGUMENTS)
        yield browser
        browser.close()


@contextmanager
def open_page(
    browser: "Browser",
    studio: ServedStudio,
    look: Look,
    *,
    signed_in: bool = True,
    expected: tuple[str, ...] = (),
) -> "Iterator[Page]":
    """A page of its own; at its end, anything asked of another host and any script error is a failure.

    `expected` are words of errors that the test itself brings about.
    """
    context = browser.new_context(
        base_url=studio.url,
        viewport={"width": look.width, "height": 780 if look.on_a_phone else 900},
        color_scheme="dark" if look.scheme == "dark" else "light",
        has_touch=look.on_a_phone,
        is_mobile=look.on_a_phone,
        locale="en-GB",
        timezone_id="Europe/London",
    )
    context.set_default_timeout(10_000)
    if signed_in:
        name, value = studio.session_cookie()
        context.add_cookies([{"name": name, "value": value, "url": studio.url}])
    page = context.new_page()
    _rest_when_answered(page)
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(f"script error at {page.url}: {error}"))
    page.on(
        "console",
        lambda line: faults.append(f"console at {page.url}: {line.text}") if line.type == "error" else None,
    )
    page.on("request", lambda request: faults.extend(_leaves_the_machine(request.url)))
    try:
        yield page
    finally:
        context.close()
    # A refused form is no fault of the page, and neither is a live sum that was still asked for when the page was left
    # or its server was stopped at the end of the test.
    ended = ("htmx:sendError", "htmx:afterRequest", "net::ERR_CONNECTION_REFUSED")
    forgiven = ("the server responded with a status of 4", *ended, *expected)
    unexpected = [fault for fault in faults if not any(words in fault for words in forgiven)]
    assert not unexpected, "\n".join(unexpected)


def _rest_when_answered(page: "Page") -> None:
    """A page that sends its form by script stays until the answer is there: only then has it come to rest."""
    wait = page.wait_for_load_state

    def wait_for_answer_too(state: Any = "load", **how: Any) -> None:
        page.locator("form[data-sent]").first.wait_for(state="detached")
        # To be quiet on the network takes half a second each time; a page says itself when nothing is on its way.
        wait("load" if state == "networkidle" else state, **how)
        settle(page)

    page.wait_for_load_state = wait_for_answer_too  # type: ignore[method-assign]  # for all pages alike


def _tell_error(address: str, kind: str, text: str) -> list[str]:
    return [f"console at {address}: {text}"] if kind == "error" else []


def _leaves_the_machine(url: str) -> list[str]:
    parts = urlsplit(url)
    stays = parts.hostname == "127.0.0.1" or parts.scheme in ("data", "blob", "about")
    return [] if stays else [f"asked another host: {url}"]


def settle(page: "Page") -> None:
    """Wait for the parts that a page asks for by itself; most pages ask for none."""
    # They are asked for before the page counts as loaded, and each is marked while it is on its way.
    page.wait_for_function("() => !document.querySelector('.htmx-request, .htmx-swapping, .htmx-settling')")


def assert_no_axe_violations(page: "Page", *, by_look: bool = False) -> None:
    """WCAG 2.2 AA, as far as axe can tell; `by_look` of a page that was found right in another look."""
    hand_axe_over(page)
    found = page.evaluate(RUN_AXE, axe_options(by_look))
    assert found == [], f"{page.url}\n" + "\n".join(found)


def hand_axe_over(page: "Page") -> None:
    from axe_playwright_python.base import AXE_SCRIPT

    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)


def axe_options(by_look: bool) -> dict[str, Any]:
    """Only what is wrong is told in full: to describe all that is right takes longer than to find it."""
    rules = {"type": "rule", "values": BY_LOOK} if by_look else {"type": "tag", "values": WCAG}
    return {"runOnly": rules, "resultTypes": ["violations"], "selectors": False}


def leave_out_what_is_alike(page: "Page", met: list[str] | None = None) -> None:
    """Leave out what is built as something that axe reads: what it says of one it says of all.

    Of neighbours that are built alike, as the rows of a table are, two stay. What stood on an earlier page already,
    in the same place and behind the same neighbour, goes: `met` is what the earlier pages had, and gets what is new.
    Something that a name is taken from stays while what takes it does, and lists and tables go whole or not at all.

    The page is of no use afterwards, but for axe: its time grows with what there is to read.
    """
    found = page.evaluate(
        """(met) => {
            const telling = ["class", "role", "type", "fill"];
            const named = (one) => [...one.attributes].map((a) => telling.includes(a.name) ? a.value : a.name);
            const speaks = (one) => [...one.childNodes].some((part) => part.nodeType === 3 && part.data.trim());
            const own = (one) => [one.localName, ...named(one), !one.childNodes.length, speaks(one)].join("(");
            const built = (one) => [own(one), ...[...one.children].map(built)].join("(") + ")";
            const hash = (text) => {
                let low = 0xdeadbeef, high = 0x41c6ce57;
                for (let at = 0; at < text.length; at++) {
                    low = Math.imul(low ^ text.charCodeAt(at), 2654435761);
                    high = Math.imul(high ^ text.charCodeAt(at), 1597334677);
                }
                return (low >>> 0).toString(36) + (high >>> 0).toString(36);
            };
            const before = new Set(met), fresh = new Set();
            const WHOLE = "table, dl, ul, ol, select, svg, fieldset, datalist";
            const references = ["for", "aria-labelledby", "aria-describedby", "aria-controls", "aria-owns", "list"];
            const pairs = references.flatMap((name) => [...document.querySelectorAll(`[${name}]`)].flatMap((one) =>
                one.getAttribute(name).split(" ").map((id) => document.getElementById(id))
                    .map((other) => name === "for" ? [other, one] : [one, other])));
            const is_asked_for = (one) => pairs.some(([from, to]) =>
                from && to && from.isConnected && one.contains(to) && !one.contains(from));
            const look_through = (parent, place, whole) => {
                const seen = new Map();
                let neighbour = "";
                for (const one of [...parent.children]) {
                    const kind = built(one), times = seen.get(kind) ?? 0;
                    const key = hash(place + neighbour + kind);
                    neighbour = own(one);
                    seen.set(kind, times + 1);
                    if (!whole && one.localName !== "main") {
                        fresh.add(key);
                        if (before.has(key) && !is_asked_for(one)) { one.remove(); continue; }
                    }
                    if (times < 2) look_through(one, place + own(one), whole || one.matches(WHOLE));
                    else one.remove();
                }
            };
            look_through(document.body, own(document.body), false);
            return met ? [...fresh].filter((key) => !before.has(key)) : [];
        }""",
        met,
    )
    if met is not None:
        met += found


def assert_no_sideways_scroll(page: "Page") -> None:
    """Nothing stands beyond the right edge, so the page moves up and down only."""
    wide = page.evaluate(
        """() => {
            const edge = document.documentElement.clientWidth;
            if (document.documentElement.scrollWidth <= edge) return [];
            return [...document.querySelectorAll("body *")]
                .filter((one) => one.getBoundingClientRect().right > edge + 0.5)
                .map((one) => one.outerHTML.slice(0, 120));
        }"""
    )
    assert wide == [], f"{page.url} scrolls sideways: {wide[:5]}"


def assert_adds_up(studio: ServedStudio) -> None:
    """The audit finds nothing wrong in what the studio's database holds."""
    assert (
        run_beside(studio.database_url, "from tests.support import problems; print(*problems())").strip()
        == ""
    )


def check_page(page: "Page", *, by_look: bool = False) -> None:
    """What every page must hold, once it has come to rest."""
    page.wait_for_load_state("networkidle")
    assert_no_axe_violations(page, by_look=by_look)
    assert_no_sideways_scroll(page)
