"""The door: signing in, out, the pause after wrong tries, and the line below a field."""

import getpass
import re
from datetime import timedelta
from io import StringIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.cache import cache
from django.core.management import call_command
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils import timezone

from studio.kit.models import WrongTries
from studio.kit.signing_in import WRONG, SignInForm
from studio.kit.tries import MOST_WRONG_TRIES, TOO_MANY_TRIES
from tests.support import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def without_a_studio(settings: Any) -> None:
    """The kit stands below the studio's subjects: neither their middleware nor their addresses are needed."""
    settings.ROOT_URLCONF = "studio.kit.urls"
    settings.MIDDLEWARE = [name for name in settings.MIDDLEWARE if not name.startswith("inventory.")]


@pytest.fixture
def mira() -> User:
    return User.objects.create_user("mira", password="copper-rivet-7")


def sign_in(client: Client, password: str, name: str = "mira", address: str = "127.0.0.1") -> str:
    given = {"username": name, "password": password}
    response = client.post(reverse("sign-in"), given, REMOTE_ADDR=address)
    return "in" if response.status_code == 302 else response.content.decode()


def test_the_right_password_opens_the_door(client: Client, mira: User) -> None:
    assert sign_in(client, "copper-rivet-7") == "in"


def test_a_wrong_password_says_how_to_mend_it_and_keeps_the_name(client: Client, mira: User) -> None:
    html = sign_in(client, "wrong")
    assert WRONG in html
    assert 'value="mira"' in html
    assert "wrong" not in html.replace("wrong tries", "")


def test_empty_fields_are_named(client: Client) -> None:
    html = sign_in(client, "", name="")
    assert "Write the name you sign in with." in html
    assert "Write your password." in html


def session_of(client: Client, settings: Any, **given: str) -> Any:
    """The cookie that a browser is given when mira signs in."""
    answer = client.post(reverse("sign-in"), {"username": "mira", "password": "copper-rivet-7", **given})
    return answer.cookies[settings.SESSION_COOKIE_NAME]


def test_a_sign_in_ends_with_the_browser(client: Client, mira: User, settings: Any) -> None:
    cookie = session_of(client, settings)
    assert (cookie["max-age"], cookie["expires"]) == ("", "")


def test_ones_own_device_stays_signed_in_for_thirty_days(client: Client, mira: User, settings: Any) -> None:
    assert session_of(client, settings, own_device="on")["max-age"] == 30 * 24 * 60 * 60
    assert client.session.get_expiry_age() == pytest.approx(30 * 24 * 60 * 60, abs=60)


def test_the_studio_sets_for_how_long(mira: User) -> None:
    request = RequestFactory().post("/sign-in/")
    request.studio = SimpleNamespace(trusted_days=7)  # type: ignore[attr-defined]  # as the middleware sets it
    form = SignInForm(request, {"username": "mira", "password": "copper-rivet-7", "own_device": "on"})
    assert "You stay signed in for 7 days." in str(form)
    assert form.is_valid()
    assert form.seconds == 7 * 24 * 60 * 60


def test_a_forgotten_password_is_answered_on_the_page_and_the_answer_works(
    client: Client, mira: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    html = client.get(reverse("sign-in")).content.decode()
    (command,) = re.findall(r"<code>.venv/bin/python manage.py (\w+) NAME</code>", html)
    assert f".venv/bin/python manage.py {command} NAME" in Path("README.md").read_text(encoding="utf-8")
    monkeypatch.setattr(getpass, "getpass", lambda *asked, **more: "lantern-moss-42")
    call_command(command, "mira", stdout=StringIO())
    assert WRONG in sign_in(client, "copper-rivet-7")
    assert sign_in(client, "lantern-moss-42") == "in"


def test_after_ten_wrong_tries_even_the_right_password_waits(client: Client, mira: User) -> None:
    for _ in range(MOST_WRONG_TRIES):
        assert WRONG in sign_in(client, "wrong")
    assert TOO_MANY_TRIES in sign_in(client, "copper-rivet-7")


def test_the_pause_is_for_one_name_from_one_address(client: Client, mira: User) -> None:
    for _ in range(MOST_WRONG_TRIES):
        sign_in(client, "wrong")
    assert TOO_MANY_TRIES in sign_in(client, "copper-rivet-7", name="MIRA")
    assert sign_in(client, "copper-rivet-7", address="127.0.0.2") == "in"


def try_in_vain(client: Client, times: int = MOST_WRONG_TRIES, **where: str) -> None:
    for _ in range(times):
        assert WRONG in sign_in(client, "wrong", **where)


def test_three_hundred_other_names_and_a_restart_do_not_end_the_pause(client: Client, mira: User) -> None:
    try_in_vain(client)
    request = RequestFactory().post("/sign-in/")
    for number in range(320):
        assert not SignInForm(request, {"username": f"name {number}", "password": "x"}).is_valid()
    cache.clear()
    assert TOO_MANY_TRIES in sign_in(client, "copper-rivet-7")


@pytest.mark.parametrize("moved", [timedelta(minutes=-15), timedelta(days=1)])
def test_the_pause_ends_also_where_the_clock_was_put_back(
    client: Client, mira: User, moved: timedelta
) -> None:
    try_in_vain(client)
    WrongTries.objects.update(since=timezone.now() + moved)
    assert sign_in(client, "copper-rivet-7") == "in"
    assert not WrongTries.objects.exists()


def test_an_empty_password_forgets_nothing(client: Client, mira: User) -> None:
    try_in_vain(client, MOST_WRONG_TRIES - 1)
    assert "Write your password." in sign_in(client, "")
    try_in_vain(client, 1)
    assert TOO_MANY_TRIES in sign_in(client, "copper-rivet-7")


def test_a_stranger_at_the_same_address_does_not_lock_out_whom_the_studio_knows(
    client: Client, mira: User
) -> None:
    assert sign_in(client, "copper-rivet-7") == "in"
    client.post(reverse("sign-out"))
    try_in_vain(Client())
    assert TOO_MANY_TRIES in sign_in(Client(), "copper-rivet-7")
    assert sign_in(client, "copper-rivet-7") == "in"


def test_a_known_browser_has_no_more_tries_than_a_stranger(client: Client, mira: User) -> None:
    assert sign_in(client, "copper-rivet-7") == "in"
    client.post(reverse("sign-out"))
    try_in_vain(client)
    assert TOO_MANY_TRIES in sign_in(client, "copper-rivet-7")


def test_the_mark_of_a_browser_counts_for_its_own_name_only_and_is_not_to_be_forged(
    client: Client, mira: User, settings: Any
) -> None:
    User.objects.create_user("otto", password="file-and-sprue-2")
    assert sign_in(client, "file-and-sprue-2", name="otto") == "in"
    client.post(reverse("sign-out"))
    try_in_vain(client)
    client.cookies[f"known-{settings.STUDIO_NAME}"] = '["mira", "forged"]'
    assert TOO_MANY_TRIES in sign_in(client, "copper-rivet-7")


def test_the_many_addresses_of_one_subscriber_are_one(client: Client, mira: User) -> None:
    for number in range(MOST_WRONG_TRIES):
        assert WRONG in sign_in(client, "wrong", address=f"2001:db8:1:2::{number:x}")
    assert TOO_MANY_TRIES in sign_in(client, "copper-rivet-7", address="2001:db8:1:2:ffff::1")
    assert sign_in(client, "copper-rivet-7", address="2001:db8:1:3::1") == "in"


def test_what_is_typed_as_a_name_is_not_kept(client: Client) -> None:
    sign_in(client, "wrong", name="a password in the wrong place")
    assert "password" not in str(WrongTries.objects.values().get())


def test_the_right_password_forgets_the_wrong_tries(client: Client, mira: User) -> None:
    for _ in range(MOST_WRONG_TRIES - 1):
        sign_in(client, "wrong")
    assert sign_in(client, "copper-rivet-7") == "in"
    client.logout()
    assert WRONG in sign_in(client, "wrong")


@pytest.mark.parametrize("name", ["\x00", "x" * 5000, "\U0001f525", "' or 1=1"])
def test_odd_names_are_only_wrong(client: Client, name: str) -> None:
    assert "Sign in" in sign_in(client, "wrong", name=name)


def test_signing_out_takes_more_than_a_link(client: Client, mira: User) -> None:
    client.force_login(mira)
    assert client.get(reverse("sign-out")).status_code == 405
    assert client.post(reverse("sign-out")).status_code == 302


def understood(client: Client, **query: str) -> str:
    return text_of(client.get(reverse("understood"), query))


def test_a_field_is_told_what_was_understood(client: Client, mira: User) -> None:
    client.force_login(mira)
    assert understood(client, kind="mass", field="button", button="12 dwt") == "18.662 g"
    assert understood(client, kind="mass", text="83,4") == "83.40 g"


def test_a_bare_ounce_is_asked_about(client: Client, mira: User) -> None:
    client.force_login(mira)
    assert understood(client, kind="mass", text="3.1 oz").startswith("Ounces troy (96.42 g)")


def event(client: Client, **query: str) -> str:
    return client.get(reverse("understood"), query).headers["HX-Trigger"]


def test_the_page_is_told_whether_an_older_mistake_may_go(client: Client, mira: User) -> None:
    client.force_login(mira)
    assert event(client, kind="mass", text="12 dwt") == "studio:understood"
    assert event(client, kind="mass", text="3.1 oz") == "studio:not-understood"


def test_a_field_is_judged_by_its_own_bounds(client: Client, mira: User) -> None:
    client.force_login(mira)
    assert understood(client, kind="mass", text="0", minimum="1") == "Write more than 0."
    assert event(client, kind="mass", text="0", minimum="1") == "studio:not-understood"
    assert (
        understood(client, kind="mass", text="2", maximum="1000")
        == "The most this field takes is 1.00 g. Check the number and its unit."
    )


@pytest.mark.parametrize(
    "query",
    [
        {},
        {"kind": "mass", "text": "2", "minimum": "-1", "maximum": "9" * 5000},
        {"kind": "price-g", "text": "2", "minimum": "x", "maximum": "\u0663"},
        {"kind": "gold"},
        {"kind": "mass", "text": "9" * 9000},
        {"kind": "mass", "text": "<b>"},
        {"field": "kind"},
    ],
)
def test_no_address_breaks_the_line_below_a_field(client: Client, mira: User, query: dict[str, str]) -> None:
    client.force_login(mira)
    response = client.get(reverse("understood"), query)
    assert response.status_code == 200
    assert "<" not in response.content.decode()


def test_whoever_is_not_signed_in_is_refused_without_a_sign_in_page(client: Client) -> None:
    response = client.get(reverse("understood"), {"kind": "mass", "text": "1"})
    assert response.status_code == 403
    assert response.content == b"Sign in again."
