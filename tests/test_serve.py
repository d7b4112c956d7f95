"""The studio as it is served: where it listens, what it says, and what every answer carries."""

import re
import socket
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import ExitStack, closing
from email.message import Message
from http.client import HTTPConnection
from urllib.parse import urlsplit

import pytest

from studio.kit.welcome import check_welcome_key, welcome_key
from studio.serve import CannotServe, describe_start, read_port
from tests.databases import Run, start_module
from tests.served import ServedStudio


def ask(url: str, **headers: str) -> tuple[int, Message]:
    """The status and the headers of the answer."""
    try:
        request = urllib.request.Request(url, headers=headers)
        with urllib.request.urlopen(request, timeout=60) as answer:
            return answer.status, answer.headers
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.headers


@pytest.fixture(scope="module")
def studio(run: Run, tmp_path_factory: pytest.TempPathFactory) -> Iterator[ServedStudio]:
    """An empty studio, for the tests that only ask."""
    with ServedStudio(run.fresh_sqlite(tmp_path_factory.mktemp("served"))) as studio:
        yield studio


def test_every_answer_forbids_what_is_not_the_studios_own(studio: ServedStudio) -> None:
    _, headers = ask(f"{studio.url}/")
    policy = dict(rule.strip().split(" ", 1) for rule in headers["Content-Security-Policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["form-action"] == "'self'"
    assert policy["frame-ancestors"] == policy["base-uri"] == policy["object-src"] == "'none'"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Server"] is None
    assert {"private", "no-store"} <= set(headers["Cache-Control"].split(", "))
    allowed = re.findall(r"([\w-]+)=\(self\)", headers["Permissions-Policy"])
    assert allowed == ["autoplay", "screen-wake-lock"]
    assert {"camera=()", "geolocation=()", "microphone=()"} <= set(headers["Permissions-Policy"].split(", "))


def test_styles_scripts_and_fonts_are_served_without_another_step(studio: ServedStudio) -> None:
    status, headers = ask(f"{studio.url}/static/django_htmx/htmx-2.min.js")
    assert (status, headers.get_content_type()) == (200, "text/javascript")
    assert "no-store" not in headers["Cache-Control"]


def test_a_name_that_is_not_the_studios_is_turned_away(studio: ServedStudio) -> None:
    assert ask(f"{studio.url}/", Host="elsewhere.example")[0] == 400


def test_a_body_beyond_reason_is_turned_away_before_it_is_sent(studio: ServedStudio) -> None:
    with closing(HTTPConnection(urlsplit(studio.url).netloc, timeout=60)) as connection:
        connection.putrequest("POST", "/sign-in/")
        connection.putheader("Content-Length", "2500000")
        connection.endheaders()
        answer = connection.getresponse()
        assert answer.status == 413
        assert b'class="message error">This is too large to be sent at once.<' in answer.read()


def test_many_half_sent_requests_leave_room_for_a_second_person(studio: ServedStudio) -> None:
    half = b"GET /sign-in/ HTTP/1.1\r\nHost: localhost\r\n"
    place = ("127.0.0.1", urlsplit(studio.url).port)
    with ExitStack() as stack:
        for _ in range(130):
            stack.enter_context(socket.create_connection(place, timeout=10)).sendall(half)
        with socket.create_connection(place, timeout=10) as second:
            second.sendall(half + b"\r\n")
            assert second.recv(100).startswith(b"HTTP/1.1 302")


def test_an_empty_studio_says_how_to_begin_and_stops_when_told_to(fresh_sqlite_url: str) -> None:
    """It answers on the newer kind of address meanwhile."""
    with ServedStudio(fresh_sqlite_url, STUDIO_BIND="::1") as studio:
        assert studio.url.startswith("http://[::1]:")
        assert ask(f"{studio.url}/sign-in/")[0] == 200
        ask(f"{studio.url}/no/such/page/")
        greeting, invitation, *complaints = studio.stop().splitlines()
    assert studio.exit_status == 0
    assert greeting == f"The studio is open at {studio.url}/ (Ctrl-C closes it)."
    assert re.fullmatch(rf"Open {re.escape(studio.url)}/welcome/\?key=\w+ to set up the studio\.", invitation)
    assert complaints == []


def test_a_port_that_is_taken_is_said_in_a_sentence(fresh_sqlite_url: str) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        with start_module(fresh_sqlite_url, "studio.serve", PORT=port) as process:
            printed = process.communicate(timeout=60)[0]
    assert process.returncode == 1
    assert printed.startswith(f"Port {port} is taken by another program.")
    assert len(printed.splitlines()) == 1


@pytest.mark.parametrize("text", ["abc", "-1", "65536", "80.5", "٨٠", "9" * 5000])
def test_a_port_that_is_no_port_is_refused(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PORT", text)
    with pytest.raises(CannotServe, match="write a number from 1 to 65535"):
        read_port()


@pytest.mark.django_db
def test_a_studio_with_a_user_prints_no_key(django_user_model: type) -> None:
    django_user_model.objects.create_user("bench")
    assert [line for line in describe_start("127.0.0.1", 8000) if "key=" in line] == []


@pytest.mark.django_db
def test_opened_to_the_house_it_asks_for_the_name_that_others_call_it_by(settings: object) -> None:
    settings.STUDIO_HOSTS = []
    assert any("STUDIO_HOSTS" in line for line in describe_start("0.0.0.0", 8000))
    settings.STUDIO_HOSTS = ["studio.lan"]
    assert not any("STUDIO_HOSTS" in line for line in describe_start("0.0.0.0", 8000))


def test_only_the_printed_key_opens_the_welcome_page() -> None:
    assert check_welcome_key(welcome_key())
    assert not check_welcome_key("")
    assert not check_welcome_key(welcome_key() + "0")
    assert not check_welcome_key("clé à l'établi")


def test_another_studio_has_another_key(settings: object) -> None:
    here = welcome_key()
    settings.SECRET_KEY = "the key of another studio, quite as long as this one's"
    assert welcome_key() != here
