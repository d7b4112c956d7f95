"""The database's own refusals: each is there, does what it should, and cannot be gone around."""

import pytest
from django.db import DatabaseError, connection

from inventory.audit import run_audit
from inventory.guards import check_guards, guards, install_guards
from inventory.models import Entry
from tests import workshop as w
from tests.databases import standing_at

GUARD = "inventory_entry_no_update"
HARMLESS = {
    "sqlite": "BEGIN SELECT 1; END",
    "postgresql": "FOR EACH ROW WHEN (false) EXECUTE FUNCTION studio_refuse_change()",
}


def run(*statements: str) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


@pytest.fixture
def no_guard(db: None) -> None:
    run(f"DROP TRIGGER {GUARD}" + (" ON inventory_entry" if connection.vendor == "postgresql" else ""))


@pytest.mark.django_db
def test_every_guard_stands() -> None:
    assert check_guards() == []
    assert GUARD in guards()


def test_one_that_is_missing_is_named_by_the_audit(no_guard: None) -> None:
    told = [problem for finding in run_audit() for problem in finding.problems]
    assert told == [f"guard {GUARD} is missing or was changed: run migrate"]


def test_one_that_does_something_else_is_named(no_guard: None) -> None:
    run(f"CREATE TRIGGER {GUARD} BEFORE UPDATE ON inventory_entry {HARMLESS[connection.vendor]}")
    assert check_guards() == [GUARD]


@pytest.mark.parametrize("where", ["AFTER UPDATE ON inventory_entry", "BEFORE UPDATE ON inventory_holder"])
def test_one_that_stands_elsewhere_is_named(no_guard: None, where: str) -> None:
    run(guards()[GUARD][1].replace("BEFORE UPDATE ON inventory_entry", where))
    assert check_guards() == [GUARD]


def test_they_are_put_right_by_migrating(no_guard: None) -> None:
    install_guards()
    assert check_guards() == []


@pytest.mark.parametrize("table", ["entry", "movement"])
def test_a_posted_row_cannot_be_replaced(table: str, fresh_sqlite_url: str, unblocked_database: None) -> None:
    """SQLite alone has REPLACE, which takes the row that is in the way past the triggers unless told otherwise."""
    with standing_at(fresh_sqlite_url):
        w.make_studio()
        w.buy(w.grain(), w.g(100), 130)
        with pytest.raises(DatabaseError, match="a posted entry never changes"):
            run(f"REPLACE INTO inventory_{table} SELECT * FROM inventory_{table}")
        assert Entry.objects.count() == 1
