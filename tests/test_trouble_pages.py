"""The ground gives way while somebody posts: a page with a sentence, no trace, and nothing saved by halves."""

import pytest

from tests.databases import run_python

# Counts a lot again and again, each time another gram less, until the studio cannot; `limit` is what then goes wrong.
POSTING = """
import html, os, re, sys, uuid
from django.contrib.auth.models import User
from django.db import connection, connections
from django.test import Client
from inventory.audit import run_audit
from inventory.models import Entry, Movement
from tests import workshop as w

w.make_studio()
lot = w.buy(w.grain(), w.g(1000), 900)
bench = Client(raise_request_exception=False, HTTP_HOST="localhost")
bench.force_login(User.objects.create_user("bench"))

def count(grams):
    form = {"once": str(uuid.uuid4()), "day": w.DAY.isoformat(), "note": "n" * 500, "counted": str(grams)}
    return bench.post(f"/stock/lots/{lot.pk}/count/", form)

def run(sql):
    with connection.cursor() as cursor:
        cursor.execute(sql)

def told(answer):
    text = " ".join(html.unescape(answer.content.decode()).split())
    assert "program is broken" not in text
    return answer.status_code, re.search('<p class="message error">(.*?)</p>', text)[1], answer["Cache-Control"]

def post_until_refused():
    entries, movements = Entry.objects.count(), Movement.objects.count()
    for number in range(1, 300):
        answer = count(1000 - number)
        if answer.status_code != 302:
            break
    status, sentence, kept = told(answer)
    assert "no-store" in kept
    return status, sentence, Entry.objects.count() - entries == Movement.objects.count() - movements == number - 1

def all_is_well():
    return not any(finding.problems for finding in run_audit())
"""

FULL = f"""{POSTING}
run("PRAGMA max_page_count=1")  # no more than it has now
print(*post_until_refused(), sep=" / ")
run("PRAGMA max_page_count=100000")
print(count(5).status_code, all_is_well())
"""

READ_ONLY = f"""{POSTING}
run("PRAGMA query_only=ON")
print(*post_until_refused(), sep=" / ")
run("PRAGMA query_only=OFF")
print(count(5).status_code, all_is_well())
"""

GONE = f"""{POSTING}
name = connection.settings_dict["NAME"]
connections.close_all()
kept = open(name, "rb").read()
for problem in (b"", b"\\xff" * 20_000, None):
    os.unlink(name)
    if problem is not None:
        open(name, "wb").write(problem)
    else:
        connection.settings_dict["NAME"] = name + "/no/folder"
    print(*told(count(5))[:2], sep=" / ")
    connections.close_all()
connection.settings_dict["NAME"] = name
open(name, "wb").write(kept)
print(count(5).status_code, all_is_well())
"""

# The server's own codes, said by the server itself: a real disk cannot be filled here.
ON_A_SERVER = f"""{POSTING}
def posting_refused(code, text):
    run("CREATE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{{text}}' USING ERRCODE = '{{code}}'; END $$")
    run("CREATE TRIGGER refuse BEFORE INSERT ON inventory_movement EXECUTE FUNCTION refuse()")
    print(*post_until_refused(), sep=" / ")
    run("DROP FUNCTION refuse CASCADE")

posting_refused("53100", "could not extend file: no space left on device")
run("SET default_transaction_read_only = on")
print(*post_until_refused(), sep=" / ")
run("SET default_transaction_read_only = off")
print(count(5).status_code, all_is_well())
host, connection.settings_dict["HOST"] = connection.settings_dict["HOST"], "/no/such/folder"
connections.close_all()
print(*told(bench.get("/"))[:2], sep=" / ")
connection.settings_dict["HOST"] = host
print(count(4).status_code, all_is_well())
"""


def lines_of(database_url: str, code: str) -> list[str]:
    printed = run_python(database_url, code)
    assert "Traceback" not in printed
    # What the log says beside it is a line for each refusal.
    return [line for line in printed.splitlines() if " ERROR django.request: " not in line]


@pytest.mark.parametrize(
    ("code", "refusal"),
    [
        (FULL, "507 / The disk is full: nothing more can be saved until there is room on it. / True"),
        (
            READ_ONLY,
            "503 / The database can be read but not written: its file or folder may not be changed, or",
        ),
    ],
    ids=["full", "read-only"],
)
def test_a_file_that_takes_no_more(code: str, refusal: str, fresh_sqlite_url: str) -> None:
    refused, after = lines_of(fresh_sqlite_url, code)
    assert refused.startswith(refusal)
    assert refused.endswith("/ True")
    assert after == "302 True"


def test_a_file_that_is_taken_away_or_damaged(fresh_sqlite_url: str) -> None:
    emptied, damaged, gone, after = lines_of(fresh_sqlite_url, GONE)
    assert emptied.startswith(
        "503 / The database is not prepared for this version of the studio, or was taken away"
    )
    assert damaged.startswith("503 / The database is damaged.")
    assert gone.startswith("503 / The database file cannot be opened")
    assert after == "302 True"


def test_a_server_that_is_full_read_only_or_gone(fresh_postgres_url: str) -> None:
    full, read_only, after, gone, again = lines_of(fresh_postgres_url, ON_A_SERVER)
    assert full == "507 / The disk is full: nothing more can be saved until there is room on it. / True"
    assert read_only.startswith("503 / The database can be read but not written")
    assert read_only.endswith("/ True")
    assert gone.startswith("503 / The database cannot be reached")
    assert after == again == "302 True"
