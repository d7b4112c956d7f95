"""Both databases, for real: what the settings promise of them holds when several processes come at once."""

from functools import partial

import pytest
from django.contrib.auth.models import User
from django.db import connection

from tests.databases import in_processes, standing_at


def hire(name: str) -> None:
    for number in range(20):
        User.objects.create_user(f"{name}-{number}")


@pytest.mark.usefixtures("unblocked_database")
def test_several_processes_write_at_once_and_nothing_is_refused(real_database: str) -> None:
    with standing_at(real_database):
        with in_processes(*(partial(hire, f"worker{number}") for number in range(3))) as workers:
            pass
        assert [worker.exitcode for worker in workers] == [0, 0, 0]
        assert User.objects.count() == 60


@pytest.mark.usefixtures("unblocked_database")
def test_sqlite_writes_through_to_the_disk_and_keeps_its_references(fresh_sqlite_url: str) -> None:
    wanted = {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "recursive_triggers": 1}
    with standing_at(fresh_sqlite_url), connection.cursor() as cursor:
        assert {name: cursor.execute(f"PRAGMA {name}").fetchone()[0] for name in wanted} == wanted


@pytest.mark.django_db
def test_each_database_test_starts_with_an_empty_studio(django_user_model: type) -> None:
    assert django_user_model.objects.count() == 0
