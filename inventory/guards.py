"""What the database itself refuses: a posted entry that changes or goes, and amounts that are not whole numbers.

Installed after every migrate, not in a migration: on SQLite a later change of a table drops its triggers
without a word. `check_guards` tells which are missing or do something else, and the audit asks it.
"""

from typing import Any

from django.db import connection

_LEDGER_TABLES = ("inventory_entry", "inventory_movement")
_WHOLE_COLUMNS = ("quantity", "fine_ug", "cost_micro")
_WHOLE_TABLES = ("inventory_holder", "inventory_movement")

_POSTGRES_BODY = "BEGIN RAISE EXCEPTION 'a posted entry never changes: reverse it instead'; END;"
_POSTGRES_FUNCTION = f"""
CREATE OR REPLACE FUNCTION studio_refuse_change() RETURNS trigger AS $${_POSTGRES_BODY}$$ LANGUAGE plpgsql
"""

# Each trigger that stands, as (name, table, the SQL that makes it). PostgreSQL tells of one by the SQL that made it;
# one that is switched off, fires only for copies that follow, or calls a function with other words is as none.
_SQLITE_STANDING = "SELECT name, tbl_name, sql FROM sqlite_master WHERE type = 'trigger'"
_POSTGRES_STANDING = """
SELECT tgname, relname, pg_get_triggerdef(pg_trigger.oid, true)
FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid JOIN pg_proc ON pg_proc.oid = tgfoid
WHERE NOT tgisinternal AND pg_table_is_visible(tgrelid) AND tgenabled IN ('O', 'A') AND prosrc = %s
"""


def _append_only(table: str, verb: str) -> tuple[str, str]:
    name = f"{table}_no_{verb.lower()}"
    if connection.vendor == "sqlite":
        body = "BEGIN SELECT RAISE(ABORT, 'a posted entry never changes: reverse it instead'); END"
        return name, f"CREATE TRIGGER {name} BEFORE {verb} ON {table} {body}"
    each = "STATEMENT" if verb == "TRUNCATE" else "ROW"
    body = f"FOR EACH {each} EXECUTE FUNCTION studio_refuse_change()"
    return name, f"CREATE TRIGGER {name} BEFORE {verb} ON {table} {body}"


def _whole_numbers(table: str, verb: str) -> tuple[str, str]:
    """SQLite keeps a fraction in an integer column if it is handed one; PostgreSQL's types refuse it already."""
    name = f"{table}_whole_{verb.lower()}"
    test = " OR ".join(f"typeof(NEW.{column}) <> 'integer'" for column in _WHOLE_COLUMNS)
    body = f"WHEN {test} BEGIN SELECT RAISE(ABORT, 'amounts are whole numbers of small units'); END"
    return name, f"CREATE TRIGGER {name} BEFORE {verb} ON {table} {body}"


def guards() -> dict[str, tuple[str, str]]:
    """Name of each trigger -> (its table, the SQL that makes it), for the database in use."""
    wanted: dict[str, tuple[str, str]] = {}
    # SQLite has no TRUNCATE.
    verbs = ("UPDATE", "DELETE") if connection.vendor == "sqlite" else ("UPDATE", "DELETE", "TRUNCATE")
    for table in _LEDGER_TABLES:
        for verb in verbs:
            name, sql = _append_only(table, verb)
            wanted[name] = (table, sql)
    if connection.vendor == "sqlite":
        for table in _WHOLE_TABLES:
            for verb in ("INSERT", "UPDATE"):
                name, sql = _whole_numbers(table, verb)
                wanted[name] = (table, sql)
    return wanted


def install_guards(**kwargs: Any) -> None:
    """Make every guard anew. Called by the post_migrate signal."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_POSTGRES_FUNCTION)
        drop_guards()
        for _, sql in guards().values():
            cursor.execute(sql)


def drop_guards() -> None:
    """Take every guard away: for those who then fill the whole database anew, and set them again."""
    with connection.cursor() as cursor:
        for name, (table, _) in guards().items():
            on_table = f" ON {table}" if connection.vendor == "postgresql" else ""
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}{on_table}")


def check_guards() -> list[str]:
    """Names of the guards that are missing from the database, or do something else than refuse."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(_SQLITE_STANDING)
        else:
            cursor.execute(_POSTGRES_STANDING, [_POSTGRES_BODY])
        standing = set(cursor.fetchall())
    return [name for name, (table, sql) in guards().items() if (name, table, sql) not in standing]
