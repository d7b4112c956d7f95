"""Casts posted a second, against plain sqlite3 writing the very same rows with the same pragmas."""

import shutil
import sqlite3
import time
from pathlib import Path

from django.db import connection

TABLES = ("holder", "cast", "entry", "treepart", "piece", "lot", "movement", "benchtime")
#: What a balance consists of, as a posting writes it.
BALANCE = """
UPDATE inventory_holder
SET quantity = quantity, fine_ug = fine_ug, cost_micro = cost_micro, latest_day = latest_day WHERE id = 20
"""


def highest_ids() -> dict[str, int]:
    with connection.cursor() as cursor:
        found = {}
        for table in TABLES:
            cursor.execute(f"SELECT COALESCE(MAX(id), 0) FROM inventory_{table}")
            found[table] = cursor.fetchone()[0]
    return found


def rows_between(before: dict[str, int], after: dict[str, int]) -> dict[str, list[tuple]]:
    """The rows one cast wrote, by table."""
    with connection.cursor() as cursor:
        written = {}
        for table in TABLES:
            query = f"SELECT * FROM inventory_{table} WHERE id > {before[table]} AND id <= {after[table]}"
            written[table] = cursor.execute(query).fetchall()
    return written


class PlainWriter:
    """Bare sqlite3 on a copy of the studio: the same inserts, as many balance updates, a transaction a cast."""

    def __init__(self, template: Path, copy: Path, touched: int) -> None:
        shutil.copyfile(template, copy)
        self.touched = touched
        self.database = sqlite3.connect(copy, isolation_level=None)
        for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
            self.database.execute(f"PRAGMA {pragma}")

    def write(self, cast: dict[str, list[tuple]]) -> float:
        """Seconds that it takes for the rows of one cast."""
        started = time.perf_counter()
        self.database.execute("BEGIN IMMEDIATE")
        for table, rows in cast.items():
            if rows:
                marks = ",".join("?" * len(rows[0]))
                self.database.executemany(f"INSERT INTO inventory_{table} VALUES ({marks})", rows)
        for _ in range(self.touched):
            self.database.execute(BALANCE)
        self.database.execute("COMMIT")
        return time.perf_counter() - started
