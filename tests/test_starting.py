"""What stands in the way of a start is said in one sentence that names it, by every command, and never as a trace."""

import os
import re
import sqlite3
import stat
import sys
from contextlib import closing
from pathlib import Path
from unittest.mock import patch

import psycopg
import pytest
from django.core.exceptions import ImproperlyConfigured

import manage
from studio import prepare, serve
from studio.environment import read_database
from studio.serve import CannotServe
from tests.databases import sqlite_address, standing_at, start_module

FROM_TO_COME = (
    "INSERT INTO django_migrations (app, name, applied) VALUES ('inventory', '9999_to_come', '2030-01-01')"
)
NEWER = "The database was last used by a newer version of the studio (inventory 9999_to_come)"
pytestmark = pytest.mark.usefixtures("unblocked_database")
COMMANDS = ("prepare", "serve", "audit", "backup")


def refusal(command: str) -> str:
    """The sentence with which it ends at the database that the process stands on."""
    with pytest.raises(SystemExit) as ended:
        if command == "prepare":
            prepare.main([])
        elif command == "serve":
            with patch("signal.signal"):
                serve.main()
        else:
            with patch.object(sys, "argv", ["manage.py", command]):
                manage.main()
    sentence = ended.value.code
    assert isinstance(sentence, str)
    assert len(sentence.splitlines()) == 1
    return sentence


def refused_process(module: str, *arguments: str, **environment: str) -> str:
    """The same of a process of its own: one line, and no trace."""
    with start_module("", module, *arguments, **environment) as process:
        printed = process.communicate(timeout=60)[0]
    assert process.returncode == 1, printed
    assert len(printed.splitlines()) == 1, printed
    return printed


def run_sql(database_url: str, statement: str) -> None:
    if database_url.startswith("sqlite"):
        with closing(sqlite3.connect(database_url.removeprefix("sqlite:///"))) as database, database:
            database.execute(statement)
        return
    with psycopg.connect(database_url, autocommit=True) as database:
        database.execute(statement)  # type: ignore[call-overload]


@pytest.mark.parametrize("command", COMMANDS)
def test_a_damaged_file(command: str, fresh_sqlite_url: str) -> None:
    file = Path(fresh_sqlite_url.removeprefix("sqlite:///"))
    file.write_bytes(file.read_bytes()[:200] + b"\xff" * 20_000)
    with standing_at(fresh_sqlite_url):
        sentence = refusal(command)
    assert sentence.startswith("The database is damaged.")
    assert str(file) in sentence


@pytest.mark.parametrize("command", COMMANDS)
def test_a_file_that_is_no_database(command: str, tmp_path: Path) -> None:
    file = tmp_path / "not.sqlite3"
    file.write_text("This is a letter and not a database, and it is long enough to tell.")
    with standing_at(sqlite_address(file)):
        sentence = refusal(command)
    assert re.fullmatch(r"The database is damaged\. .* \(.*not\.sqlite3: file is not a database\)", sentence)


@pytest.mark.parametrize("command", COMMANDS)
def test_a_database_from_a_newer_version_is_left_as_it_is(command: str, fresh_sqlite_url: str) -> None:
    run_sql(fresh_sqlite_url, FROM_TO_COME)
    with standing_at(fresh_sqlite_url):
        assert refusal(command).startswith(NEWER)


def test_and_so_on_a_server(fresh_postgres_url: str) -> None:
    run_sql(fresh_postgres_url, FROM_TO_COME)
    with standing_at(fresh_postgres_url):
        assert refusal("prepare").startswith(NEWER)


def test_an_app_that_is_no_longer_there_is_not_a_newer_version(fresh_sqlite_url: str) -> None:
    gone = "INSERT INTO django_migrations (app, name, applied) VALUES ('gone', '0001_first', '2020-01-01')"
    run_sql(fresh_sqlite_url, gone)
    with standing_at(fresh_sqlite_url):
        prepare.main([])


@pytest.mark.parametrize("host", ["no.such.host.invalid", "127.0.0.1:1"])
@pytest.mark.parametrize("command", COMMANDS)
def test_a_database_server_that_cannot_be_found(command: str, host: str) -> None:
    with standing_at(f"postgresql://hand:tongs@{host}/studio"):
        sentence = refusal(command)
    assert sentence.startswith("The database cannot be reached")
    assert host.split(":", maxsplit=1)[0] in sentence
    assert "tongs" not in sentence


@pytest.mark.parametrize("command", ["serve", "audit", "backup"])
def test_nothing_prepared_yet(command: str, tmp_path: Path) -> None:
    with standing_at(sqlite_address(tmp_path / "new.sqlite3")):
        assert refusal(command) == "There is no studio in this database yet: `make run` begins one."


@pytest.mark.parametrize(
    ("limit", "told"),
    [
        (" PRAGMA max_page_count=20;", "The disk is full"),
        (" PRAGMA query_only=ON;", "The database can be read but not written"),
    ],
)
def test_a_full_disk_and_a_file_that_may_only_be_read(limit: str, told: str, tmp_path: Path) -> None:
    with standing_at(sqlite_address(tmp_path / "new.sqlite3"), limit):
        assert refusal("prepare").startswith(told)


@pytest.mark.parametrize("command", [("studio.prepare",), ("manage", "audit")])
def test_a_folder_that_cannot_be_made(command: tuple[str, ...], tmp_path: Path) -> None:
    (tmp_path / "file").write_text("a file where the folder should be")
    sentence = refused_process(*command, SECRET_KEY="", STUDIO_VAR=str(tmp_path / "file" / "var"))
    assert "file/var, which cannot be made" in sentence


def test_a_folder_for_the_file_that_cannot_be_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("a file where the folder should be")
    monkeypatch.setenv("DATABASE_URL", sqlite_address(tmp_path / "file" / "studio.sqlite3"))
    with pytest.raises(ImproperlyConfigured, match="which cannot be made"):
        read_database(tmp_path)


def test_a_name_to_answer_on_that_has_no_address() -> None:
    with pytest.raises(CannotServe, match=r"STUDIO_BIND is 'no\.such\.host\.invalid', which is no address"):
        serve.open_server("no.such.host.invalid", 0)


def test_an_address_to_answer_on_that_is_another_machines(fresh_sqlite_url: str) -> None:
    elsewhere = {"DATABASE_URL": fresh_sqlite_url, "STUDIO_BIND": "192.0.2.77", "PORT": "0"}
    assert "cannot be served on 192.0.2.77" in refused_process("studio.serve", **elsewhere)


@pytest.mark.parametrize(
    ("bind", "address"),
    [
        ("127.0.0.1", "http://127.0.0.1:8000/"),
        ("::1", "http://[::1]:8000/"),
        ("::", "http://[::1]:8000/"),
        ("0.0.0.0", "http://127.0.0.1:8000/"),
    ],
)
def test_the_printed_address_is_one_that_answers(bind: str, address: str, fresh_sqlite_url: str) -> None:
    with standing_at(fresh_sqlite_url):
        assert address in serve.describe_start(bind, 8000)[0]


def test_first_starts_at_once_make_one_database_and_all_that_is_kept_is_for_its_owner_only(
    tmp_path: Path,
) -> None:
    var = tmp_path / "var"
    # What an older version left behind, and a shell that lets others read.
    var.mkdir(mode=0o755)
    (var / "copies").mkdir(mode=0o755)
    for name in ("demo-sign-in.txt", "copies/studio-2026-03-02-184530.sqlite3"):
        (var / name).touch(mode=0o644)
        (var / name).chmod(0o644)
    environment = {"SECRET_KEY": "", "STUDIO_VAR": str(var)}
    usual = os.umask(0o022)
    try:
        starts = [start_module("", "studio.prepare", **environment) for _ in range(2)]
    finally:
        os.umask(usual)
    assert [start.communicate(timeout=120)[0] for start in starts] == [""] * 2
    assert [start.returncode for start in starts] == [0] * 2
    modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in (var, *var.rglob("*"))}
    assert modes.pop("var") == modes.pop("copies") == 0o700
    assert set(modes) >= {"studio.sqlite3", "secret-key", "demo-sign-in.txt"}
    assert set(modes.values()) == {0o600}


def test_first_starts_at_once_make_one_database_on_a_server(bare_postgres_url: str) -> None:
    starts = [start_module(bare_postgres_url, "studio.prepare") for _ in range(2)]
    assert [start.communicate(timeout=120)[0] for start in starts] == [""] * 2
    assert [start.returncode for start in starts] == [0] * 2
