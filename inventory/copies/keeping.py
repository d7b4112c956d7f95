"""Looking at a file as if it were the studio, and keeping a copy, whoever goes on posting meanwhile."""

import errno
import os
import re
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from itertools import count
from pathlib import Path

from django.contrib.sessions.models import Session
from django.core.management import call_command
from django.db import DEFAULT_DB_ALIAS, DatabaseError, connection, connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.utils import ConnectionHandler
from django.utils import timezone
from django.utils.text import slugify

from inventory.audit import Finding, run_audit
from inventory.models import Studio
from studio.kit.photo_files import photo_folder
from studio.kit.schema import require_current
from studio.kit.trouble import DAMAGED, explain

from .pictures import let_go, still_there, take_along
from .rows import replace_rows

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


ENDING = ".sqlite3"
# A copy in which the audit found something wrong: better than none, and never counted among the good ones.
DOUBTFUL = "-doubtful"

_PATIENCE_TURNS = 80  # of a quarter of a second each


@dataclass(frozen=True, slots=True)
class Kept:
    """Where a copy lies, what the look through it found, and which older ones made room for it."""

    file: Path
    checked: Checked
    dropped: list[Path]


def keep_copy(folder: Path, keep: int | None = None) -> Kept:
    """Keep a copy in the folder, for its owner only; with `keep`, let go of all but that many newest ones.

    Nothing that is there already is written over. Raises WrongVersion, and what the disk or the database raises.
    """
    if not folder.exists():
        folder.mkdir(mode=0o700, parents=True)
    with drafted(folder) as draft:
        checked = write_copy(draft)
        file = settle(draft, claim_name(folder, copy_name(DOUBTFUL if checked.problems else "")))
    return Kept(file, checked, [] if checked.problems or keep is None else _let_go(folder, keep))


def write_copy(target: Path) -> Checked:
    """Write this moment of the studio into the file, with its pictures, without who is signed in, and prove it.

    `target` is an empty file. Raises WrongVersion unless the database is this version's.
    """
    require_current()
    if connection.vendor == "sqlite":
        write_pages(target)
    else:
        _write_rows(target)
    pictures = photo_folder()
    with standing_on(open_file(target)):
        Session.objects.all().delete()
        with connection.cursor() as cursor:
            cursor.execute("VACUUM")  # what was deleted is in the file no longer
        missing = take_along(pictures)
    gone = missing - still_there(missing)
    with standing_on(open_file(target)):
        let_go(gone)
        return check_here()


def copy_name(mark: str = "") -> str:
    """What a copy of this moment is called: studio-2026-03-02-184530.sqlite3."""
    return f"{_stem()}-{timezone.localtime():%Y-%m-%d-%H%M%S}{mark}{ENDING}"


@contextmanager
def drafted(folder: Path) -> Iterator[Path]:
    """An empty file for its owner only, on the same disk as the place it is for; what is left of it goes."""
    handle, name = tempfile.mkstemp(dir=folder, prefix=".draft-", suffix=ENDING)
    os.close(handle)
    draft = Path(name)
    try:
        yield draft
    finally:
        for ending in ("", "-journal", "-wal", "-shm"):
            Path(f"{draft}{ending}").unlink(missing_ok=True)


def claim_name(folder: Path, name: str) -> Path:
    """Make an empty file of that name, or of the next that is free."""
    file = folder / name
    for number in range(2, 1000):
        try:
            file.touch(mode=0o600, exist_ok=False)
            return file
        except FileExistsError:
            file = folder / f"{name.removesuffix(ENDING)}-{number}{ENDING}"
    raise FileExistsError(f"{folder / name} and a thousand others are there already")


def write_pages(target: Path) -> None:
    """The SQLite database that this thread stands on, page by page, as of one moment; outside of a transaction."""
    connection.ensure_connection()
    turns = count()

    def lose_patience(status: int, remaining: int, total: int) -> None:
        # All pages go in one turn; more than one means that somebody holds the lock, and SQLite would ask forever.
        if next(turns) > _PATIENCE_TURNS:
            raise BlockingIOError(errno.EAGAIN, "the database is locked")

    with closing(sqlite3.connect(target)) as copy:
        connection.connection.backup(copy, progress=lose_patience)
        copy.execute("PRAGMA journal_mode=DELETE")  # one file, with nothing beside it


def _write_rows(target: Path) -> None:
    """PostgreSQL's rows, all read as of one moment, in tables that are made anew."""
    from psycopg import IsolationLevel

    source = connection.copy()
    source.settings_dict["OPTIONS"]["isolation_level"] = IsolationLevel.REPEATABLE_READ
    with closing(source):
        source.set_autocommit(False)
        with standing_on(open_file(target)):
            call_command("migrate", interactive=False, verbosity=0)
            with transaction.atomic():
                replace_rows(source)


def settle(draft: Path, file: Path) -> Path:
    """Give the draft its name, in the place of what is there, and have it on the disk for good."""
    draft.replace(file)
    for path in (file, file.parent):
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    return file


def _let_go(folder: Path, keep: int) -> list[Path]:
    """Delete all but the newest; only what has the name of a good copy of this studio is counted, and goes."""
    pattern = re.compile(rf"{re.escape(_stem())}-(\d{{4}}-\d\d-\d\d-\d{{6}})(?:-(\d+))?{re.escape(ENDING)}")
    copies = {
        (found[1], int(found[2] or 1)): path
        for path in folder.iterdir()
        if (found := pattern.fullmatch(path.name))
    }
    old = [copies[moment] for moment in sorted(copies)[:-keep]]
    for path in old:
        path.unlink()
    return old


def _stem() -> str:
    """What its copies are called after: the database's own name."""
    return slugify(Path(str(connection.settings_dict["NAME"])).stem) or "studio"
