"""The copy that a browser takes home."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.test import Client

from inventory.audit import Finding
from inventory.copies.keeping import Checked, looking_at
from inventory.models import Lot
from inventory.views import setup
from tests import workshop as w
from tests.databases import standing_at
from tests.support import problems

ADDRESS = "/setup/copy/"


def test_the_button_hands_over_the_whole_studio(
    real_database: str, unblocked_database: None, settings: object, tmp_path: Path
) -> None:
    # Outside of a test's transaction: inside there is nothing yet that a copy could hold.
    with standing_at(real_database):
        w.make_studio()
        w.buy(w.grain(), w.g(100), 130)
        bench = Client()
        bench.force_login(User.objects.create_user("Ada"))
        answer = bench.post(ADDRESS)
        copy = tmp_path / "copy.sqlite3"
        copy.write_bytes(b"".join(answer.streaming_content))
        answer.close()
    assert (answer.status_code, answer["Cache-Control"]) == (200, "private, no-store")
    assert answer["Content-Type"] == "application/vnd.sqlite3"
    assert answer["Content-Disposition"].startswith('attachment; filename="studio')
    assert int(answer["Content-Length"]) == copy.stat().st_size
    assert list(settings.VAR_DIR.glob(".draft-*")) == []
    with looking_at(copy):
        assert Lot.objects.get().holder.quantity == w.g(100)
        assert problems() == []


@pytest.fixture
def spoiled(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    finding = Finding("a promise", 1, ["lot 1 holds a gram too many"])
    monkeypatch.setattr(setup, "write_copy", lambda _target: Checked([finding]))
    yield


def test_the_page_is_led_to_and_says_what_a_copy_is(bench: Client) -> None:
    assert f'href="{ADDRESS}"' in bench.get("/setup/").content.decode()
    page = bench.get(ADDRESS)
    assert "restore FILE" in page.content.decode()
    assert "no-store" in page["Cache-Control"]


def test_nobody_takes_it_without_signing_in(bench: Client) -> None:
    assert Client().post(ADDRESS).headers["Location"].startswith("/sign-in/")


def test_a_doubtful_copy_is_said_to_be_one_and_taken_only_when_asked_again(
    bench: Client, spoiled: None, settings: object
) -> None:
    answer = bench.post(ADDRESS)
    assert answer.status_code == 409
    assert "lot 1 holds a gram too many" in answer.content.decode()
    taken = bench.post(ADDRESS, {"anyway": "on"})
    assert "doubtful" in taken["Content-Disposition"]
    taken.close()
    assert list(settings.VAR_DIR.glob(".draft-*")) == []


def test_one_copy_at_a_time(bench: Client) -> None:
    with setup._one_at_a_time:
        answer = bench.post(ADDRESS, follow=True)
    assert "A copy is being made just now" in answer.content.decode()
