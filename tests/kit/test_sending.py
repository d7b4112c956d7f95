"""What a script that sends a form is told, and the way back for who is not known any more."""

from typing import Any
from uuid import UUID

import pytest
from django.contrib.auth.models import User
from django.test import Client

from inventory.posting.once import post_once
from studio.kit.sending import OPEN_TOO_LONG, SAVED, SENT, SIGNED_OUT, WAY_ON
from tests.support import text_of

pytestmark = pytest.mark.django_db
BY_SCRIPT = {SENT: "1"}
SUPPLIER = {"name": "Marsh Gate Metals", "lead_time_days": "7", "lead_time_spread_days": "2"}
HOST = "http://testserver"
PAGE = f"{HOST}/setup/suppliers/new/?from=buying"


def test_a_script_is_told_where_to_lead_on_to_and_that_it_was_saved(bench: Client) -> None:
    answer = bench.post("/setup/suppliers/new/", SUPPLIER, headers=BY_SCRIPT)
    assert (answer.status_code, answer[WAY_ON], answer[SAVED]) == (204, "/setup/suppliers/", "1")
    assert "Location" not in answer
    assert "Saved: Marsh Gate Metals." in text_of(bench.get("/setup/suppliers/"))


def test_a_browser_is_led_on_as_ever(bench: Client) -> None:
    answer = bench.post("/setup/suppliers/new/", SUPPLIER)
    assert (answer.status_code, answer["Location"]) == (302, "/setup/suppliers/")
    assert WAY_ON not in answer


def test_what_was_refused_is_not_called_saved(bench: Client) -> None:
    answer = bench.post("/setup/suppliers/new/", {**SUPPLIER, "name": ""}, headers=BY_SCRIPT)
    assert answer.status_code == 422
    assert SAVED not in answer and WAY_ON not in answer


def test_whoever_was_signed_out_comes_back_to_the_page_that_was_sent(bench: Client) -> None:
    bench.logout()
    answer = bench.post("/setup/suppliers/new/", SUPPLIER, headers={**BY_SCRIPT, "Referer": PAGE})
    assert answer[WAY_ON] == "/sign-in/?next=/setup/suppliers/new/%3Ffrom%3Dbuying"
    assert SAVED not in answer
    assert SIGNED_OUT in text_of(bench.get(answer[WAY_ON]))


@pytest.mark.parametrize(
    "page", ["", "https://elsewhere.invalid/setup/", "javascript:alert(1)", f"{HOST}//elsewhere.invalid/"]
)
def test_nobody_is_led_to_a_page_of_another_host(bench: Client, page: str) -> None:
    bench.logout()
    answer = bench.post("/setup/suppliers/new/", SUPPLIER, headers={"Referer": page})
    assert answer["Location"] == "/sign-in/?next=/setup/suppliers/new/"


def test_a_part_of_a_page_is_refused_without_a_sign_in_page(bench: Client) -> None:
    bench.logout()
    answer = bench.post("/casts/balance/", {}, headers={"HX-Request": "true"})
    assert (answer.status_code, answer.content) == (403, b"Sign in again.")


class TestATokenThatDoesNotHold:
    @pytest.fixture
    def strict(self, bench: Client) -> Client:
        bench.handler.enforce_csrf_checks = True
        bench.get("/setup/suppliers/new/")
        return bench

    def test_leads_back_to_the_page_and_says_so(self, strict: Client) -> None:
        answer = strict.post("/setup/suppliers/new/", SUPPLIER, headers={**BY_SCRIPT, "Referer": PAGE})
        assert answer[WAY_ON] == "/setup/suppliers/new/?from=buying"
        assert SAVED not in answer
        assert OPEN_TOO_LONG in text_of(strict.get(answer[WAY_ON]))

    @pytest.mark.parametrize("page", ["", "https://elsewhere.invalid/setup/", f"{HOST}//elsewhere.invalid/"])
    def test_is_refused_where_it_came_from_nowhere_or_elsewhere(self, strict: Client, page: str) -> None:
        answer = strict.post("/setup/suppliers/new/", SUPPLIER, headers={"Referer": page})
        assert answer.status_code == 403
        assert "That was not saved" in text_of(answer)

    def test_a_part_of_a_page_is_refused_without_a_page_in_it(self, strict: Client) -> None:
        strict.cookies["csrftoken"] = "k" * 32
        part = strict.post(
            "/buying/deliveries/ahead/",
            headers={"hx-request": "true", "referer": "http://testserver/buying/"},
        )
        assert part.status_code == 403 and b"<html" not in part.content

    def test_without_cookies_is_refused_with_a_way_to_the_page(self, strict: Client) -> None:
        strict.cookies.clear()
        answer = strict.post("/setup/suppliers/new/", SUPPLIER, headers={"Referer": PAGE})
        assert answer.status_code == 403
        assert 'href="/setup/suppliers/new/?from=buying"' in answer.content.decode()


def test_signing_out_twice_leads_to_the_sign_in_page(client: Client, settings: Any) -> None:
    User.objects.create_user("mira")
    assert client.post("/sign-out/")["Location"] == "/sign-in/"


class TestWhatAOneTimeKeySaved:
    def test_is_told_to_who_asks(self, bench: Client) -> None:
        key = "0b8b7c1e-8f3b-4a39-8b4f-0c7c5d2f9e11"
        assert bench.get("/saved/", {"key": key}).status_code == 204
        post_once(UUID(key), lambda: "/casts/7/")
        assert bench.get("/saved/", {"key": key}).content == b"/casts/7/"

    @pytest.mark.parametrize("key", ["", "x", "\x00"])
    def test_a_broken_key_saved_nothing(self, bench: Client, key: str) -> None:
        assert bench.get("/saved/", {"key": key}).status_code == 204

    def test_is_no_strangers_business(self, client: Client) -> None:
        User.objects.create_user("mira")
        assert client.get("/saved/").status_code == 302
