"""The ground gives way while somebody posts: a page with a sentence, no trace, and nothing saved by halves."""

import html
import logging
import re
from collections.abc import Callable, Iterator
from io import StringIO
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.db import connection, connections
from django.http import HttpResponse
from django.test import Client

from inventory.models import Entry, Lot, Movement
from tests import workshop as w
from tests.databases import standing_at
from tests.support import once, problems

FULL = "The disk is full: nothing more can be saved until there is room on it."
ONLY_READ = "The database can be read but not written"


@pytest.fixture(autouse=True)
def _no_trace(unblocked_database: None, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """What the log says is a line for each refusal."""
    said = StringIO()
    [handler] = (one for one in logging.getLogger().handlers if type(one) is logging.StreamHandler)
    monkeypatch.setattr(handler, "stream", said)
    yield
    lines = said.getvalue().splitlines()
    assert lines and all(" ERROR django.request: " in line for line in lines)


class Bench:
    """Somebody who counts a lot again and again, each time another gram less."""

    def __init__(self) -> None:
        w.make_studio()
        self.lot: Lot = w.buy(w.grain(), w.g(1000), 900)
        self.client = Client(raise_request_exception=False, HTTP_HOST="localhost")
        self.client.force_login(User.objects.create_user("bench"))

    def count(self, grams: int) -> HttpResponse:
        form = {**once(), "day": w.DAY.isoformat(), "note": "n" * 500, "counted": str(grams)}
        return self.client.post(f"/stock/lots/{self.lot.pk}/count/", form)

    def post_until_refused(self) -> tuple[int, str]:
        """How the first count was answered that the studio could not take; all before it are there, whole."""
        entries, movements = Entry.objects.count(), Movement.objects.count()
        for number in range(300):
            answer = self.count(999 - number)
            if answer.status_code != 302:
                break
        assert Entry.objects.count() - entries == Movement.objects.count() - movements == number
        return told(answer)

    def goes_on(self, grams: int) -> bool:
        return self.count(grams).status_code == 302 and problems() == []


def told(answer: HttpResponse) -> tuple[int, str]:
    """The status of an answer, and what it says is the matter."""
    text = " ".join(html.unescape(answer.content.decode()).split())
    assert "program is broken" not in text
    assert "no-store" in answer["Cache-Control"]
    return answer.status_code, re.search('<p class="message error">(.*?)</p>', text)[1]


def run(sql: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql)


@pytest.mark.parametrize(
    ("limit", "undo", "status", "sentence"),
    [
        # No more than it has now.
        ("PRAGMA max_page_count=1", "PRAGMA max_page_count=100000", 507, FULL),
        ("PRAGMA query_only=ON", "PRAGMA query_only=OFF", 503, f"{ONLY_READ}: its file or folder may not be"),
    ],
    ids=["full", "read-only"],
)
def test_a_file_that_takes_no_more(
    limit: str, undo: str, status: int, sentence: str, fresh_sqlite_url: str
) -> None:
    with standing_at(fresh_sqlite_url):
        bench = Bench()
        run(limit)
        refused, said = bench.post_until_refused()
        assert refused == status
        assert said.startswith(sentence)
        run(undo)
        assert bench.goes_on(5)


def test_a_file_that_is_taken_away_or_damaged(fresh_sqlite_url: str) -> None:
    file = Path(fresh_sqlite_url.removeprefix("sqlite:///"))
    with standing_at(fresh_sqlite_url):
        bench = Bench()

        def refused(harm: Callable[[], object]) -> str:
            connections.close_all()
            file.unlink(missing_ok=True)
            harm()
            status, sentence = told(bench.count(5))
            connections.close_all()
            assert status == 503
            return sentence

        connections.close_all()
        kept, name = file.read_bytes(), connection.settings_dict["NAME"]
        assert refused(file.touch).startswith(
            "The database is not prepared for this version of the studio, or was taken away"
        )
        assert refused(lambda: file.write_bytes(b"\xff" * 20_000)).startswith("The database is damaged.")
        elsewhere = {"NAME": f"{name}/no/folder"}
        assert refused(lambda: connection.settings_dict.update(elsewhere)).startswith(
            "The database file cannot be opened"
        )
        connection.settings_dict["NAME"] = name
        file.write_bytes(kept)
        assert bench.goes_on(5)


def refuse_movements(code: str, text: str) -> None:
    """The server's own codes, said by the server itself: a real disk cannot be filled here."""
    body = f"$$ BEGIN RAISE EXCEPTION '{text}' USING ERRCODE = '{code}'; END $$"
    run(f"CREATE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS {body}")
    run("CREATE TRIGGER refuse BEFORE INSERT ON inventory_movement EXECUTE FUNCTION refuse()")


def test_a_server_that_is_full_read_only_or_gone(fresh_postgres_url: str) -> None:
    with standing_at(fresh_postgres_url):
        bench = Bench()
        refuse_movements("53100", "could not extend file: no space left on device")
        assert bench.post_until_refused() == (507, FULL)
        run("DROP FUNCTION refuse CASCADE")
        run("SET default_transaction_read_only = on")
        refused, said = bench.post_until_refused()
        assert refused == 503
        assert said.startswith(ONLY_READ)
        run("SET default_transaction_read_only = off")
        assert bench.goes_on(5)
        there = dict(connection.settings_dict)
        connection.settings_dict["HOST"] = "/no/such/folder"
        connections.close_all()
        refused, said = told(bench.client.get("/"))
        assert refused == 503
        assert said.startswith("The database cannot be reached")
        connection.settings_dict.update(there)
        assert bench.goes_on(4)
