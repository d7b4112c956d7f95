"""Pages of a studio with long books look up what they show: none reads a whole table that grows with the work.

SQLite tells how it would read each query; that its tables are long it is made to believe.
"""

import re

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from studio.kit.schema import gather_statistics
from tests.bench.__main__ import PAGES, READ_ALL, newest_of_each
from tests.bench.decade import Decade

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.counts,
    pytest.mark.skipif("connection.vendor != 'sqlite'", reason="it is SQLite that tells"),
]
# Every cast adds to these. The others, and what is on the shelf, stay as they are however long the studio works.
GROWING = (
    "movement",
    "entry",
    "holder",
    "cast",
    "piece",
    "lot",
    "delivery",
    "firing",
    "treepart",
    "benchtime",
)
HERE = "holder_with_something"
TIMES = 500


def make_long() -> None:
    """Tell SQLite of many times as many rows, as unlike as they are."""
    gather_statistics()
    with connection.cursor() as cursor:
        cursor.execute("SELECT rowid, tbl, idx, stat FROM sqlite_stat1")
        for row, table, index, stat in cursor.fetchall():
            if table.removeprefix("inventory_") not in GROWING or index == HERE:
                continue
            rows, *alike = map(int, stat.split())
            longer = [rows * TIMES, *(count * TIMES if count == rows else count for count in alike)]
            cursor.execute(
                "UPDATE sqlite_stat1 SET stat = %s WHERE rowid = %s", [" ".join(map(str, longer)), row]
            )
        cursor.execute("ANALYZE sqlite_schema")


def whole_reads(client: Client, address: str) -> list[str]:
    with CaptureQueriesContext(connection) as asked:
        assert client.get(address).status_code == 200
    return [f"{address}: {read} in {sql}" for sql in (q["sql"] for q in asked) for read in read_whole(sql)]


def read_whole(sql: str) -> list[str]:
    """The growing tables that a query reads from end to end; what counts or adds up a list, and what stops after
    the newest, does so rightly."""
    if not sql.startswith("SELECT") or re.match(r"SELECT (COUNT|SUM|COALESCE\(SUM)\b", sql):
        return []
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN QUERY PLAN {sql}")
        steps = [row[3] for row in cursor.fetchall()]
    stops = " LIMIT " in sql and not any("TEMP B-TREE FOR ORDER BY" in step for step in steps)
    found = []
    for step in steps:
        scanned = re.match(r"SCAN (\w+)", step)
        # A table goes by another name within a question, which is said where it is joined.
        named = re.search(rf'"inventory_(\w+)" {scanned[1]}\b', sql) if scanned else None
        table = named[1] if named else scanned[1].removeprefix("inventory_") if scanned else ""
        if table in GROWING and HERE not in step and not stops:
            found.append(step)
    return found


def test_no_page_reads_a_table_that_grows_from_end_to_end(client: Client):
    client.force_login(User.objects.create_user("Ada"))
    Decade(timezone.localdate()).post(24, 40)
    make_long()
    newest = newest_of_each()
    # The bench says that these do so in time.
    pages = [page.format(**newest) for page in PAGES if not page.startswith(READ_ALL)]
    found = [read for page in pages for read in whole_reads(client, page)]
    assert found == [], "\n".join(found)
