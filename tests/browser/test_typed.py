"""Nothing typed is lost and nothing is posted unasked: Enter, reload, Back, no server, no sign-in, two windows."""

import re
import socket
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.browser.conftest import OneServer, OpenPage
from tests.browser_support import LOOKS, assert_no_axe_violations, assert_no_sideways_scroll
from tests.databases import Run
from tests.served import ServedStudio

if TYPE_CHECKING:
    from playwright.sync_api import Page, Route

PHONE, DESK = LOOKS[0], LOOKS[3]
DELIVERY = "/buying/deliveries/new/"
LONG = [
    "/casts/record/",
    DELIVERY,
    "/stock/opening/",
    "/plans/new/",
    "/setup/schedules/new/",
    "/setup/studio/",
    "step",
]
#: What a browser says of a server that is away.
AWAY = ("net::ERR_", "htmx:")
#: What a person would change in a field of each kind.
TYPE_IN_ALL = """form => {
    for (const field of form.elements) {
        if (!field.matches("input:not([type=hidden], [name$='-DELETE']), select, textarea") || field.disabled) continue;
        if (field.options) field.selectedIndex = field.options.length - 1;
        else if (field.type === "checkbox") field.checked = !field.checked;
        else field.value = {date: "2026-03-02", time: "09:30"}[field.type] ?? "3";
        for (const what of ["input", "change"]) field.dispatchEvent(new Event(what, {bubbles: true}));
    }
}"""
READ_ALL = (
    """form => [...new FormData(form)].filter(([name]) => !/^(once|csrfmiddlewaretoken|begun)$/.test(name))"""
)


@pytest.fixture(scope="module")
def studio(one_server: OneServer) -> ServedStudio:
    """The demo, for the tests of this file: each saves what the others do not look at."""
    return one_server.with_a_demo_to_change()


def find_form(page: "Page") -> Any:
    """The long form of the page."""
    return page.locator("main form:has([data-enter-goes-on])").first


def _choose(page: "Page", name: str, word: str) -> None:
    texts = page.locator(f"select[name={name}] option").all_text_contents()
    page.select_option(f"select[name={name}]", index=max(n for n, text in enumerate(texts) if word in text))


def line_of(page: "Page") -> Any:
    return page.locator("main .brought-back")


def fill_delivery(page: "Page", supplier: str) -> None:
    page.goto(DELIVERY)
    page.fill("[name=new_supplier]", supplier)
    page.select_option("[name=lines-0-material]", label="Silver ear wires")
    page.fill("[name=lines-0-quantity]", "20")
    page.fill("[name=lines-0-price]", "9.50")


def save(page: "Page") -> None:
    """By the keyboard: sums that come in below a field move the button."""
    page.locator("main button.press").focus()
    page.keyboard.press("Enter")


def count_deliveries(page: "Page", supplier: str) -> int:
    """How many deliveries came from a supplier of this name."""
    answer = page.request.get("/buying/deliveries/?export=csv")
    return answer.text().count(supplier)


def open_long(page: "Page", address: str) -> None:
    if address != "step":
        page.goto(address)
        return
    page.goto("/casts/start/")
    page.fill("input[name=title]", "a leaf ring")
    save(page)
    page.wait_for_url(re.compile(r"/casts/\d+/$"))


@pytest.mark.parametrize("address", LONG)
def test_a_long_form_is_gone_through_by_enter_and_comes_back_whole(
    open_in: OpenPage, studio: ServedStudio, address: str
) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, PHONE)
    open_long(page, address)
    stands = page.url
    sent: list[str] = []
    page.on("request", lambda one: sent.append(one.url) if one.is_navigation_request() else None)
    form = find_form(page)
    for button in page.locator("main form button[name=add_line]").all()[:1]:
        button.focus()
        page.keyboard.press("Enter")
        page.wait_for_load_state("networkidle")
    form.evaluate(TYPE_IN_ALL)
    # Another alloy fetches other usual answers.
    page.wait_for_load_state("networkidle")
    typed = form.evaluate(READ_ALL)
    form.locator("input:visible").first.focus()
    for _ in range(form.evaluate("form => form.elements.length")):
        stands_at = page.evaluate(
            "document.activeElement.matches('button.press') || document.activeElement.tagName"
        )
        if stands_at is True:
            break
        page.keyboard.press("Enter" if stands_at == "INPUT" else "Tab")
    expect(form.locator("button.press")).to_be_focused()
    assert (page.url, sent) == (stands, [])
    page.reload()
    expect(line_of(page)).to_contain_text("Brought back what you had typed at")
    page.wait_for_load_state("networkidle")
    assert find_form(page).evaluate(READ_ALL) == typed
    page.click("text=Start again")
    expect(line_of(page)).to_have_count(0)
    assert find_form(page).evaluate(READ_ALL) != typed


def test_enter_saves_nothing_without_a_script_either(open_in: OpenPage, studio: ServedStudio) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, PHONE)
    page.route("**/*.js", lambda route: route.fulfill(body="", content_type="text/javascript"))
    for address in ("/casts/start/", "/setup/suppliers/new/"):
        page.goto(address)
        page.locator("main input:visible").first.fill("a leaf ring")
        page.keyboard.press("Enter")
        page.wait_for_timeout(50)
        expect(page.locator("main .form-errors, main .message")).to_have_count(0)
        assert page.url.endswith(address)
    page.locator("main input:visible").first.fill("")
    save(page)
    expect(page.locator("main .form-errors")).to_be_visible()


def test_a_button_and_enter_with_control_save_and_a_held_key_does_not(
    open_in: OpenPage, studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, DESK)
    page.goto("/setup/customers/new/")
    page.fill("[name=name]", "Reed Bank")
    page.focus("[name=contact]")
    for _ in range(4):  # down again without an up between: it is held
        page.keyboard.down("Enter")
    page.keyboard.up("Enter")
    expect(page.locator("main button.press")).to_be_focused()
    assert page.url.endswith("/new/")
    page.focus("[name=contact]")
    page.keyboard.press("Control+Enter")
    expect(page.locator("main")).to_contain_text("Saved: Reed Bank.")


def test_enter_stays_in_a_list_and_in_a_note(open_in: OpenPage, studio: ServedStudio) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, DESK)
    page.goto("/casts/start/")
    page.focus("[name=alloy]")
    page.keyboard.press("Enter")
    expect(page.locator("[name=alloy]")).to_be_focused()
    assert page.url.endswith("/casts/start/")
    page.goto("/casts/record/")
    page.locator("details:has([name=note]) > summary").click()
    note = page.locator("[name=note]")
    note.fill("slowly")
    note.press("Enter")
    expect(note).to_have_value("slowly\n")


def test_back_brings_back_what_was_typed_and_its_sums_until_it_is_saved(
    open_in: OpenPage, studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, PHONE)
    page.goto("/casts/record/")
    _choose(page, "charge-0-what", "Sterling grain")
    page.fill("[name=charge-0-mass]", "20")
    page.fill("[name=pieces-0-mass]", "8")
    page.fill("input[name=back]", "3.1 oz")
    page.click("nav a:has-text('Stock')")
    page.wait_for_url("**/stock/")
    page.go_back()
    expect(line_of(page)).to_contain_text("Brought back")
    expect(page.locator("[name=pieces-0-mass]")).to_have_value("8")
    expect(page.locator("#id_back-understood")).to_contain_text("Ounces troy")
    expect(page.locator("#balance")).to_contain_text("not accounted for")
    assert_no_axe_violations(page)
    assert_no_sideways_scroll(page)
    page.click("text=Start again")
    expect(page.locator("[name=pieces-0-mass]")).to_have_value("")


def test_what_was_refused_is_kept_and_what_was_saved_is_not(open_in: OpenPage, studio: ServedStudio) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, PHONE)
    fill_delivery(page, "Low Weir Findings")
    page.fill("[name=lines-0-quantity]", "some")
    save(page)
    expect(page.locator("[name=lines-0-quantity]")).to_be_focused()
    page.reload()
    expect(page.locator("[name=lines-0-quantity]")).to_have_value("some")
    page.fill("[name=lines-0-quantity]", "20")
    save(page)
    page.wait_for_url(re.compile(r"/deliveries/\d+/$"))
    expect(page.locator("main")).to_contain_text("The delivery is in stock.")
    page.go_back()
    expect(page.locator("[name=new_supplier]")).to_have_value("")
    expect(line_of(page)).to_have_count(0)
    assert count_deliveries(page, "Low Weir Findings") == 1


def test_a_server_that_is_cut_off_while_it_saves_is_tried_again(
    open_in: OpenPage, run: Run, tmp_path: Path
) -> None:
    from playwright.sync_api import expect

    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = str(free.getsockname()[1])
    url, session = run.fresh_sqlite(tmp_path, demo=True), run.demo_session()
    with ExitStack() as served:
        first = served.enter_context(ServedStudio(url, session, PORT=port))
        page = open_in(first, PHONE, expected=AWAY)
        fill_delivery(page, "Alder Holt")
        page.route(f"**{DELIVERY}", lambda route: (first.cut_off(), route.continue_()))
        save(page)
        said = page.locator(".not-saved")
        expect(said).to_contain_text("Not saved: the studio does not answer. What you typed stays here.")
        page.unroute(f"**{DELIVERY}")
        assert_no_axe_violations(page)
        assert_no_sideways_scroll(page)
        served.enter_context(ServedStudio(url, session, PORT=port))
        page.click("text=Try again")
        page.wait_for_url(re.compile(r"/deliveries/\d+/$"))
        assert count_deliveries(page, "Alder Holt") == 1


def lose_the_answer(route: "Route") -> None:
    """The studio saves, and nobody hears of it."""
    route.fetch()
    route.abort()


def try_again(page: "Page") -> None:
    page.click("text=Try again")


def reload_and_see(page: "Page") -> None:
    page.reload()
    line_of(page).get_by_text("was saved").wait_for()
    page.click("text=See it")


def reload_and_save(page: "Page") -> None:
    page.reload()
    line_of(page).get_by_text("Brought back").wait_for()
    save(page)


@pytest.mark.parametrize(
    ("loses", "goes_on"),
    [
        (lose_the_answer, try_again),
        (lose_the_answer, reload_and_see),
        (lambda route: route.abort(), reload_and_save),
    ],
    ids=["answer lost, tried again", "answer lost, loaded again", "never sent"],
)
def test_what_nobody_knows_to_be_saved_is_saved_once(
    open_in: OpenPage,
    studio: ServedStudio,
    request: pytest.FixtureRequest,
    loses: Callable[["Route"], object],
    goes_on: Callable[["Page"], None],
) -> None:
    page = open_in(studio, PHONE, expected=AWAY)
    supplier = f"Sedge Mill {request.node.callspec.id}"
    fill_delivery(page, supplier)
    key = page.input_value("[name=once]")
    page.route(f"**{DELIVERY}", loses)
    save(page)
    page.locator(".not-saved").wait_for()
    page.unroute(f"**{DELIVERY}")
    goes_on(page)
    page.wait_for_url(re.compile(r"/deliveries/\d+/$"))
    assert count_deliveries(page, supplier) == 1
    page.goto(DELIVERY)
    assert page.input_value("[name=once]") != key
    assert line_of(page).count() == 0


FAILURES = {
    "The disk is full": "<main><h1>It cannot save</h1><p class='message error'>The disk is full.</p></main>",
    "the studio cannot save just now": "Bad gateway, says a proxy",
}


def test_a_failure_is_told_beside_the_button(open_in: OpenPage, studio: ServedStudio) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, PHONE, expected=("a status of 503",))
    page.goto("/setup/customers/new/")
    page.fill("[name=name]", "Otter Brook")
    bodies = iter(FAILURES.values())
    page.route("**/customers/new/", lambda route: route.fulfill(status=503, body=next(bodies)))
    for sentence in FAILURES:
        save(page)
        expect(page.locator(".actions + .not-saved")).to_contain_text(
            f"Not saved: {sentence}. What you typed"
        )
        expect(page.locator("main button.press")).not_to_have_attribute("aria-disabled", "true")
    expect(page.locator("[name=name]")).to_have_value("Otter Brook")


PASSWORDS = {"mara": "copper-rivet-7", "otto": "lantern-moss-42"}


@pytest.fixture(scope="module")
def people(studio: ServedStudio) -> ServedStudio:
    """The studio with people in it whose passwords are known."""
    make = "; ".join(f"User.objects.create_user({n!r}, password={p!r})" for n, p in PASSWORDS.items())
    studio.manage("shell", "-c", f"from django.contrib.auth.models import User; {make}")
    return studio


def sign_in(page: "Page", name: str = "mara") -> None:
    page.fill("[name=username]", name)
    page.fill("[name=password]", PASSWORDS[name])
    page.keyboard.press("Enter")
    page.wait_for_url(lambda address: "/sign-in/" not in address)


def end_session(page: "Page") -> None:
    page.context.clear_cookies(name=re.compile("session-"))


def test_whoever_was_signed_out_meanwhile_comes_back_to_the_form_filled(
    open_in: OpenPage, people: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = open_in(people, PHONE, signed_in=False, expected=("Response Status Error Code 403",))
    page.goto(DELIVERY)
    sign_in(page)
    fill_delivery(page, "Teal Ford")
    end_session(page)
    save(page)
    expect(page.locator("main")).to_contain_text("You were signed out, so nothing was saved yet.")
    sign_in(page, "otto")
    assert page.url.endswith(DELIVERY)
    expect(page.locator("[name=new_supplier]")).to_have_value("")
    expect(line_of(page)).to_have_count(0)
    end_session(page)
    page.reload()
    sign_in(page)
    expect(line_of(page)).to_contain_text("Brought back")
    save(page)
    page.wait_for_url(re.compile(r"/deliveries/\d+/$"))
    assert count_deliveries(page, "Teal Ford") == 1


def test_a_page_that_was_open_too_long_comes_back_filled(open_in: OpenPage, studio: ServedStudio) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, PHONE, expected=("Response Status Error Code 403",))
    fill_delivery(page, "Coot Lane")
    # The answer to a live sum would bring the token back.
    page.wait_for_timeout(600)
    page.wait_for_load_state("networkidle")
    (token,) = (one for one in page.context.cookies() if one["name"].startswith("csrf-"))
    page.context.add_cookies([{**token, "value": "k" * 32}])  # type: ignore[list-item]  # its own words for a cookie
    save(page)
    expect(page.locator("main")).to_contain_text("The page had been open too long")
    expect(line_of(page)).to_contain_text("Brought back")
    save(page)
    page.wait_for_url(re.compile(r"/deliveries/\d+/$"))


def kept(page: "Page") -> str:
    """All that the device keeps of what was typed."""
    stored = page.evaluate("JSON.stringify({...localStorage})")
    return "".join(re.findall(r'"typed:.*', stored))


def test_signing_out_asks_once_and_then_forgets_what_was_typed(
    open_in: OpenPage, people: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = open_in(people, PHONE, signed_in=False)
    page.goto(DELIVERY)
    sign_in(page)
    fill_delivery(page, "Rush End")
    other = page.context.new_page()
    other.goto(DELIVERY)
    expect(line_of(other)).to_contain_text("Brought back")
    other.fill("[name=new_supplier]", "Rush End and Sons")
    # What is typed is kept a moment later.
    page.wait_for_function("JSON.stringify({...localStorage}).includes('Rush End and Sons')")
    assert not re.search("csrf|once", kept(page))
    page.once("dialog", lambda dialog: dialog.dismiss())
    page.click("text=Sign out")
    assert page.url.endswith(DELIVERY) and "Rush End" in kept(page)
    page.once("dialog", lambda dialog: dialog.accept())
    page.click("text=Sign out")
    page.wait_for_url("**/sign-in/**")
    other.fill("[name=new_supplier]", "typed when nobody was signed in")
    other.close()
    assert kept(page) == ""


def test_no_password_is_ever_kept_and_nothing_longer_than_a_week(
    open_in: OpenPage, studio: ServedStudio
) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, PHONE)
    page.goto("/setup/people/new/")
    page.fill("[name=username]", "ilse")
    page.fill("[name=password1]", "copper-rivet-7")
    page.goto("/setup/customers/new/")
    page.fill("[name=name]", "Moor Hen")
    assert "Moor Hen" in kept(page) and "rivet" not in kept(page) and "ilse" not in kept(page)
    page.goto("/setup/customers/")
    aged = "at - 8 * 24 * 3600 * 1000"
    page.evaluate(
        f"""() => {{
            const [key, text] = Object.entries(localStorage).find(([, one]) => one.includes("Moor Hen"));
            const {{at, ...rest}} = JSON.parse(text);
            localStorage.setItem(key, JSON.stringify({{...rest, at: {aged}, page: "another"}}));
        }}"""
    )
    page.reload()
    assert "Moor Hen" not in kept(page)
    page.goto("/setup/customers/new/")
    expect(page.locator("[name=name]")).to_have_value("")


@pytest.mark.parametrize("typed_on", ["", "9.75"], ids=["only brought back", "typed on"])
def test_a_window_that_brought_it_back_is_told_when_another_saves(
    open_in: OpenPage, studio: ServedStudio, typed_on: str
) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, DESK)
    fill_delivery(page, "Plover Works")
    other = page.context.new_page()
    other.goto(DELIVERY)
    expect(line_of(other)).to_contain_text("Brought back")
    if typed_on:
        other.fill("[name=lines-0-price]", typed_on)
    save(page)
    page.wait_for_url(re.compile(r"/deliveries/\d+/$"))
    expect(line_of(other)).to_contain_text("This was saved or given up in another window.")
    assert bool(kept(other)) == bool(typed_on)
    other.click("text=Start again")
    expect(other.locator("[name=new_supplier]")).to_have_value("")
    assert kept(other) == ""


@pytest.mark.parametrize("first", [0, 1], ids=["typed before", "typed after"])
def test_two_windows_with_two_texts_keep_what_the_other_did_not_save(
    open_in: OpenPage, studio: ServedStudio, first: int
) -> None:
    from playwright.sync_api import expect

    page = open_in(studio, DESK)
    other = page.context.new_page()
    other.goto(DELIVERY)
    fill_delivery(page, "Heron Yard")
    windows = [other, page]
    for window in windows[:: 1 if first else -1]:
        window.fill("[name=new_supplier]", "Heron Yard" if window is page else "Swan Yard")
    save(page)
    page.wait_for_url(re.compile(r"/deliveries/\d+/$"))
    other.reload()
    expect(line_of(other)).to_contain_text("Brought back")
    expect(other.locator("[name=new_supplier]")).to_have_value("Swan Yard")
    other.click("text=Start again")
    expect(line_of(other)).to_have_count(0)


@pytest.mark.parametrize(
    "broken",
    ["not JSON", "7", '{"fields": {}}', '{"lines": {}, "fields": {"new_supplier": "x", "spread_by": 5}}'],
)
def test_what_cannot_be_read_of_what_was_kept_does_not_stand_in_the_way(
    open_in: OpenPage, studio: ServedStudio, broken: str
) -> None:
    page = open_in(studio, DESK)
    page.goto(DELIVERY)
    page.evaluate(
        """broken => {
            const text = broken.startsWith("{") ? JSON.stringify({...JSON.parse(broken), at: Date.now()}) : broken;
            localStorage.setItem(`typed:${document.body.dataset.keeper}:${location.pathname}`, text);
        }""",
        broken,
    )
    page.reload()
    page.fill("[name=new_supplier]", "Sedge Row Metals")
    page.reload()
    assert page.input_value("[name=new_supplier]") == "Sedge Row Metals"
