"""Whether the database was made by this version of the studio, by an older one, or by a newer one."""

from django.db import connection
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
