"""Both databases, for real: what the settings promise of them holds when several processes come at once."""

import pytest

from tests.databases import run_python

HIRE = """
import multiprocessing
from django.contrib.auth.models import User
from django.db import connections

fork = multiprocessing.get_context("fork")

def hire(name):
    for number in range(20):
        User.objects.create_user(f"{name}-{number}")

connections.close_all()
workers = [fork.Process(target=hire, args=[f"worker{number}"]) for number in range(3)]
for worker in workers:
    worker.start()
for worker in workers:
    worker.join()
print([worker.exitcode for worker in workers], User.objects.count())
"""


def test_several_processes_write_at_once_and_nothing_is_refused(real_database: str) -> None:
    assert run_python(real_database, HIRE) == "[0, 0, 0] 60\n"


def test_sqlite_writes_through_to_the_disk_and_keeps_its_references(fresh_sqlite_url: str) -> None:
    code = """
from django.db import connection
with connection.cursor() as cursor:
    for name in ("journal_mode", "synchronous", "foreign_keys", "recursive_triggers"):
        print(name, cursor.execute(f"PRAGMA {name}").fetchone()[0])
"""
    told = "journal_mode wal\nsynchronous 2\nforeign_keys 1\nrecursive_triggers 1\n"
    assert run_python(fresh_sqlite_url, code) == told


@pytest.mark.django_db
def test_each_database_test_starts_with_an_empty_studio(django_user_model: type) -> None:
    assert django_user_model.objects.count() == 0
