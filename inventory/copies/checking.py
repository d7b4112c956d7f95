"""Looking at a file as if it were the studio: is it one, of this version, whole, and does it add up?"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from django.db import DEFAULT_DB_ALIAS, DatabaseError, connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.utils import ConnectionHandler

from inventory.audit import Finding, run_audit
from inventory.models import Studio
from studio.kit.trouble import DAMAGED, explain

# How every SQLite file begins: https://www.sqlite.org/fileformat.html
_MAGIC = b"SQLite format 3\x00"


class NotACopy(Exception):
    """The file holds no studio, as a sentence for the person."""


@dataclass(frozen=True, slots=True)
class Checked:
    """What a look through a copy found."""

    findings: list[Finding]
    damage: str = ""

    @property
    def problems(self) -> list[str]:
        wrong = [problem for finding in self.findings for problem in finding.problems]
        return [f"the file is damaged: {self.damage}", *wrong] if self.damage else wrong

    @property
    def count(self) -> int:
        """How many rows were looked at."""
        return sum(finding.checked for finding in self.findings)


def open_file(file: Path) -> BaseDatabaseWrapper:
    """A database of its own in that file, apart from those of the settings.

    What is written to it is not forced to the disk at every step: whoever gives it its place does that once.
    """
    options = {
        "timeout": 20,
        "transaction_mode": "IMMEDIATE",
        "init_command": "PRAGMA foreign_keys=ON; PRAGMA synchronous=OFF;",
    }
    database = {"ENGINE": "django.db.backends.sqlite3", "NAME": str(file), "OPTIONS": options}
    return ConnectionHandler({DEFAULT_DB_ALIAS: database})[DEFAULT_DB_ALIAS]


@contextmanager
def standing_on(database: BaseDatabaseWrapper) -> Iterator[None]:
    """Whatever this thread asks of its database, it asks of this one; it is closed at the end."""
    own = connections[DEFAULT_DB_ALIAS]
    connections[DEFAULT_DB_ALIAS] = database
    try:
        yield
    finally:
        connections[DEFAULT_DB_ALIAS] = own
        database.close()


@contextmanager
def looking_at(file: Path) -> Iterator[None]:
    """Stand on the file, which must look like a database. Raises NotACopy."""
    try:
        with file.open("rb") as stream:
            begins = stream.read(len(_MAGIC))
    except OSError as error:
        raise NotACopy(f"{file} cannot be read: {error.strerror}.") from error
    if begins != _MAGIC:
        raise NotACopy(f"{file} is no copy of a studio.")
    with standing_on(open_file(file)):
        try:
            if Studio._meta.db_table not in connection.introspection.table_names():
                raise NotACopy(f"{file} is a database, and there is no studio in it.")
            yield
        except DatabaseError as error:
            if explain(error) is DAMAGED:
                raise NotACopy(f"{file} is damaged.") from error
            raise


def check_here() -> Checked:
    """Prove the SQLite database that this thread stands on: the file's own order, then the audit."""
    with connection.cursor() as cursor:
        told = str(cursor.execute("PRAGMA integrity_check(1)").fetchone()[0])
    damage = "" if told == "ok" else told
    return Checked([] if damage else run_audit(), damage)
