"""Both databases, for real: what the settings promise of them holds when several processes come at once."""

import pytest

from tests.databases import run_python, start_python

HIRE = """
import sys
from django.contrib.auth.models import User
for number in range(20):
    User.objects.create_user(f"{sys.argv[1]}-{number}")
"""
COUNT = "from django.contrib.auth.models import User; print(User.objects.count())"


def test_several_processes_write_at_once_and_nothing_is_refused(real_database: str) -> None:
    workers = [start_python(real_database, HIRE, f"worker{number}") for number in range(3)]
    printed = [worker.communicate(timeout=120)[0] for worker in workers]
    assert [worker.returncode for worker in workers] == [0, 0, 0], printed
    assert run_python(real_database, COUNT) == "60\n"


def test_sqlite_writes_through_to_the_disk_and_keeps_its_references(fresh_sqlite_url: str) -> None:
    code = """
from django.db import connection
with connection.cursor() as cursor:
    for name in ("journal_mode", "synchronous", "foreign_keys"):
        print(name, cursor.execute(f"PRAGMA {name}").fetchone()[0])
"""
    assert run_python(fresh_sqlite_url, code) == "journal_mode wal\nsynchronous 2\nforeign_keys 1\n"


@pytest.mark.django_db
def test_each_database_test_starts_with_an_empty_studio(django_user_model: type) -> None:
    assert django_user_model.objects.count() == 0
