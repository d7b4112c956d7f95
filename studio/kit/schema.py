"""Whether the database was made by this version, and what SQLite's planner should know of its tables.

SQLite gathers nothing of that by itself, as PostgreSQL does: it takes every condition for equally narrow, and reads
thousands of rows where an index leads to ten.
"""

from typing import Any

from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor

EMPTY = "There is no studio in this database yet: `make run` begins one."
BEHIND = "The database is not up to date. Run this first: python manage.py migrate"
AHEAD = (
    "The database was last used by a newer version of the studio ({name}). Use that version: this one could"
    " harm it."
)


class WrongVersion(Exception):
    """The database is not this version's, as a sentence for the person."""


def refuse_newer() -> None:
    """Raise WrongVersion where the database has seen a migration that this version does not know."""
    _refuse_newer(MigrationExecutor(connection))


def require_current() -> None:
    """Raise WrongVersion unless the database is exactly this version's."""
    executor = MigrationExecutor(connection)
    _refuse_newer(executor)
    if not executor.loader.applied_migrations:
        raise WrongVersion(EMPTY)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise WrongVersion(BEHIND)


def _refuse_newer(executor: MigrationExecutor) -> None:
    loader = executor.loader
    known = set(loader.disk_migrations)
    # A migration that was folded into a later one is no stranger.
    known |= {replaced for migration in loader.disk_migrations.values() for replaced in migration.replaces}
    newer = [key for key in loader.applied_migrations if key[0] in loader.migrated_apps and key not in known]
    if newer:
        raise WrongVersion(AHEAD.format(name=" ".join(min(newer))))


# A value in a unique column is found in one row. ANALYZE counts rows without a value as one value that fills most
# of the table, so where few have one (an entry that was reversed, say) it would call the index useless.
_UNIQUE_FINDS_ONE = """
UPDATE sqlite_stat1 SET stat = substr(stat, 1, instr(stat, ' ')) || '1'
WHERE idx LIKE 'sqlite_autoindex%' AND stat NOT LIKE '% % %'
"""


def gather_statistics(**kwargs: Any) -> None:
    """Count the tables anew: after every migrate, so at each start, and when somebody signs in.

    It reads the indexes once, a fifth of a second for fifty years of books. A receiver of signals, whose names it
    does not need.
    """
    if connection.vendor == "sqlite":
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("ANALYZE")
            cursor.execute(_UNIQUE_FINDS_ONE)
            cursor.execute("ANALYZE sqlite_schema")  # this connection takes up what the update changed
