"""Troubles of the disk and the database are told by the codes that SQLite and PostgreSQL themselves give."""

import errno
import logging
import sqlite3
from contextlib import closing
from pathlib import Path

import psycopg
import pytest
from django.db import DatabaseError, IntegrityError, OperationalError, ProgrammingError

from studio.kit import trouble
from studio.kit.trouble import SayTrouble, explain


def wrapped(error: Exception, kind: type[DatabaseError] = OperationalError) -> DatabaseError:
    """As Django hands it on."""
    outer = kind(*error.args)
    outer.__cause__ = error
    return outer


def refused_by_sqlite(file: Path, *statements: str, uri: bool = False) -> sqlite3.Error:
    """The engine's own refusal of the last statement."""
    with pytest.raises(sqlite3.Error) as refused, closing(sqlite3.connect(file, uri=uri)) as database:
        for statement in statements:
            database.execute(statement)
    return refused.value


def test_a_full_disk_is_told_from_sqlites_own_error(tmp_path: Path) -> None:
    full = refused_by_sqlite(
        tmp_path / "small", "PRAGMA max_page_count=2", "CREATE TABLE a (b)", "CREATE TABLE c (d)"
    )
    assert explain(wrapped(full)) is trouble.FULL
    assert explain(full) is trouble.FULL


def test_a_file_that_may_only_be_read(tmp_path: Path) -> None:
    file = tmp_path / "read"
    with closing(sqlite3.connect(file)) as database:
        database.execute("CREATE TABLE a (b)")
    error = refused_by_sqlite(f"file:{file}?mode=ro", "INSERT INTO a VALUES (1)", uri=True)
    assert explain(wrapped(error)) is trouble.READ_ONLY


def test_a_damaged_file_and_one_that_is_no_database(tmp_path: Path) -> None:
    letter, torn = tmp_path / "letter", tmp_path / "torn"
    letter.write_text("a letter, and long enough to be told from a database" * 20)
    with closing(sqlite3.connect(torn)) as database:
        database.execute("CREATE TABLE a (b)")
    torn.write_bytes(torn.read_bytes()[:100] + b"\xff" * 8092)
    for file in (letter, torn):
        error = refused_by_sqlite(file, "SELECT * FROM a")
        assert explain(wrapped(error, DatabaseError)) is trouble.DAMAGED


def test_a_folder_that_is_gone_and_a_table_that_is_not_there(tmp_path: Path) -> None:
    assert explain(refused_by_sqlite(tmp_path / "no" / "folder", "SELECT 1")) is trouble.CLOSED
    assert explain(refused_by_sqlite(tmp_path / "new", "SELECT * FROM a")) is trouble.STRANGE


def test_somebody_else_who_holds_the_lock(tmp_path: Path) -> None:
    file = tmp_path / "held"
    with closing(sqlite3.connect(file)) as holder:
        holder.execute("BEGIN EXCLUSIVE")
        error = refused_by_sqlite(file, "PRAGMA busy_timeout=0", "BEGIN EXCLUSIVE")
    assert explain(wrapped(error)) is trouble.BUSY


@pytest.mark.parametrize(
    ("state", "told"),
    [
        ("53100", trouble.FULL),
        ("25006", trouble.READ_ONLY),
        ("57P01", trouble.GONE),
        ("3D000", trouble.GONE),
        ("40P01", trouble.BUSY),
        ("42P01", trouble.STRANGE),
        ("XX001", trouble.DAMAGED),
        ("23505", None),
        ("42601", None),
    ],
)
def test_postgresqls_codes(state: str, told: trouble.Trouble | None) -> None:
    assert explain(wrapped(psycopg.errors.lookup(state)("as the server says it"))) is told


def test_a_server_that_does_not_answer_gives_no_code() -> None:
    with pytest.raises(psycopg.OperationalError) as refused:
        psycopg.connect("host=127.0.0.1 port=1 dbname=none connect_timeout=5")
    assert explain(wrapped(refused.value)) is trouble.GONE


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS, errno.EACCES, errno.EIO])
def test_the_disks_own_errors(code: int) -> None:
    assert explain(OSError(code, "as the system says it")) is not None


@pytest.mark.parametrize(
    "error",
    [
        ValueError("a slip"),
        FileNotFoundError(errno.ENOENT, "gone"),
        BrokenPipeError(errno.EPIPE, "hung up"),
        IntegrityError("twice"),
        ProgrammingError("syntax"),
        None,
    ],
)
def test_a_fault_of_the_program_stays_one(error: BaseException | None) -> None:
    assert explain(error) is None


def log_line(error: Exception) -> str:
    record = logging.LogRecord(
        "django.request", logging.ERROR, "", 0, "%s", ("/casts/new/",), (type(error), error, None)
    )
    SayTrouble().filter(record)
    return logging.Formatter("%(message)s").format(record)


def test_the_log_has_a_sentence_for_a_trouble_and_the_trace_of_a_fault() -> None:
    assert log_line(OSError(errno.ENOSPC, "full")) == f"/casts/new/: {trouble.FULL.sentence}"
    assert log_line(ValueError("a slip")).startswith("/casts/new/\nValueError: a slip")
