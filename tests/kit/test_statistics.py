"""SQLite is told how full its tables are, so that it looks a row up instead of reading all there are."""

import pytest
from django.contrib.auth.models import User
from django.core.management import call_command
from django.db import connection

from inventory.models import Entry
from studio.kit.schema import gather_statistics
from tests import workshop as w

pytestmark = pytest.mark.django_db
only_sqlite = pytest.mark.skipif(
    "connection.vendor != 'sqlite'", reason="PostgreSQL gathers its own statistics"
)


def known(table: str) -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT stat FROM sqlite_stat1 WHERE tbl = %s", [table])
        return [row[0] for row in cursor.fetchall()]


@pytest.fixture
def deliveries():
    w.make_studio()
    for _ in range(60):
        w.buy(w.grain(), w.g(1), 1)


@only_sqlite
def test_an_entry_is_looked_up_by_what_reverses_it_although_none_was_reversed(deliveries):
    gather_statistics()
    newest = Entry.objects.select_related("cast", "piece", "reverses", "reversed_by").order_by("-day", "-pk")
    plan = newest[:5].explain()
    assert "SCAN T" not in plan
    assert "(reverses_id=?)" in plan


@only_sqlite
def test_who_signs_in_has_the_tables_counted(client, deliveries):
    assert not known("inventory_movement")
    client.force_login(User.objects.create_user("ilse"))
    assert all(stat.startswith("60 ") for stat in known("inventory_movement"))


@only_sqlite
def test_the_tables_are_counted_at_each_start(deliveries):
    call_command("migrate", verbosity=0)
    assert all(stat.startswith("60 ") for stat in known("inventory_movement"))
