"""What PostgreSQL itself refuses, whoever asks."""

import psycopg
import pytest

from inventory.guards import check_guards, guards, install_guards
from tests.databases import standing_at


@pytest.mark.parametrize(
    "statement",
    ["TRUNCATE inventory_movement", "TRUNCATE inventory_entry CASCADE", "TRUNCATE inventory_cast CASCADE"],
)
def test_the_ledger_cannot_be_emptied_at_a_stroke(statement: str, fresh_postgres_url: str) -> None:
    with (
        psycopg.connect(fresh_postgres_url) as database,
        pytest.raises(psycopg.errors.RaiseException) as refused,
    ):
        database.execute(statement)  # type: ignore[call-overload]
    assert "a posted entry never changes" in str(refused.value)


def test_the_audit_misses_such_a_guard(fresh_postgres_url: str, unblocked_database: None) -> None:
    with psycopg.connect(fresh_postgres_url) as database:
        database.execute("DROP TRIGGER inventory_movement_no_truncate ON inventory_movement")
    with standing_at(fresh_postgres_url):
        assert check_guards() == ["inventory_movement_no_truncate"]


TRIGGER = "inventory_entry_no_update"


@pytest.mark.parametrize("state", [f"DISABLE TRIGGER {TRIGGER}", f"ENABLE REPLICA TRIGGER {TRIGGER}"])
def test_a_guard_that_is_switched_off_is_missed(
    state: str, fresh_postgres_url: str, unblocked_database: None
) -> None:
    with psycopg.connect(fresh_postgres_url) as database:
        database.execute(f"ALTER TABLE inventory_entry {state}")  # type: ignore[call-overload]
    with standing_at(fresh_postgres_url):
        assert check_guards() == [TRIGGER]


def test_guards_that_call_a_function_with_other_words_are_missed(
    fresh_postgres_url: str, unblocked_database: None
) -> None:
    with psycopg.connect(fresh_postgres_url) as database:
        database.execute(
            "CREATE OR REPLACE FUNCTION studio_refuse_change() RETURNS trigger AS "
            "$$BEGIN RETURN NEW; END;$$ LANGUAGE plpgsql"
        )
    with standing_at(fresh_postgres_url):
        assert check_guards() == list(guards())
        install_guards()
        assert check_guards() == []
