"""Real databases for tests that need real processes: a migrated one is made once for a run, then copied."""

import fcntl
import io
import itertools
import multiprocessing
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager, redirect_stdout
from functools import partial
from multiprocessing.context import ForkProcess
from pathlib import Path
from typing import IO, Any
from unittest.mock import patch

import dj_database_url

from studio.environment import name_studio
from tests.postgres_cluster import Cluster, start_cluster

ROOT = Path(__file__).resolve().parent.parent
TEMPLATE = "migrated"
SECRET_KEY = "only for tests, and long enough to be taken for a key of a studio"
LOAD_DEMO = """
from studio import prepare
prepare.main(["--demo"])
"""
SIGN_IN = """
from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY, get_user_model
from django.contrib.sessions.backends.db import SessionStore
users = get_user_model().objects
user = users.order_by("pk").first() or users.create_user("bench", password="a hammer and tongs")
session = SessionStore()
session[SESSION_KEY] = str(user.pk)
session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
session[HASH_SESSION_KEY] = user.get_session_auth_hash()
session.save()
print(session.session_key)
"""
_counter = itertools.count(1)


class Run:
    """What all workers of one test run share, kept in one folder that goes when the run ends.

    The files that are copied, empty and with the demo, lie there too, or in the folder that STUDIO_TEST_MADE names,
    where runs that follow each other find what the first of them made.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._made = Path(os.environ.get("STUDIO_TEST_MADE") or folder)
        self._beginning: subprocess.Popen[bytes] | None = None

    def begin(self) -> None:
        """Begin what every worker will ask for, while they look for their tests: they would all wait for the first."""
        self._beginning = subprocess.Popen(
            [sys.executable, "-m", "tests.databases", str(self.folder)], cwd=ROOT
        )

    def make_ready(self) -> None:
        """Make the databases that this run's workers copy."""
        if on_server():
            self._postgres_empty()
        else:
            self._sqlite_with_demo()

    def lend(self, database: dict[str, Any]) -> None:
        """Have a worker's test database, by its settings, begin as a copy of the migrated one."""
        if on_server():
            self._postgres_empty()
            database["TEST"]["TEMPLATE"] = TEMPLATE
        else:
            shutil.copyfile(self._sqlite_empty(), database["TEST"]["NAME"])

    def remove(self) -> None:
        if self._beginning is not None:
            self._beginning.wait()
        if (self.folder / "postgres").exists():
            Cluster(self.folder / "postgres").stop()
        shutil.rmtree(self.folder, ignore_errors=True)

    def fresh_sqlite(self, folder: Path, *, demo: bool = False) -> str:
        """The address of a copy of the migrated database, empty or with the demo in it."""
        template = self._sqlite_with_demo() if demo else self._sqlite_empty()
        copy = folder / f"studio-{next(_counter)}.sqlite3"
        shutil.copyfile(template, copy)
        _copy_pictures(template, copy)
        return sqlite_address(copy)

    def bring_back_demo(self, url: str) -> None:
        """Make the database at that address the demo again, also while it is served."""
        copy_into(self._sqlite_with_demo(), url)

    @contextmanager
    def fresh_postgres(self, *, migrated: bool = True) -> Iterator[str]:
        """The address of a database of its own on the run's server, empty, with the studio's tables or without."""
        cluster = self._postgres_empty() if migrated else self.cluster()
        name = f"studio_{os.getpid()}_{next(_counter)}"
        cluster.run_sql(f"CREATE DATABASE {name} TEMPLATE {TEMPLATE if migrated else 'template1'}")
        try:
            yield cluster.url(name)
        finally:
            cluster.run_sql(f"DROP DATABASE {name} WITH (FORCE)")

    def cluster(self) -> Cluster:
        """The run's PostgreSQL server, started when the first test asks for it."""
        given = os.environ.get("STUDIO_TEST_POSTGRES")
        if given:
            return Cluster(Path(given))
        self.once("postgres-started", lambda: start_cluster(self.folder / "postgres"))
        return Cluster(self.folder / "postgres")

    def copy_demo(self, file: Path) -> None:
        """Put the demo's database there, for a file that all workers share."""
        shutil.copyfile(self._sqlite_with_demo(), file)

    def _sqlite_empty(self) -> Path:
        file = self._made / "migrated.sqlite3"
        make = partial(run_module, sqlite_address(file), "studio.prepare")
        _once(self._made, "sqlite-migrated", make)
        return file

    def _sqlite_with_demo(self) -> Path:
        file = self._made / "demo.sqlite3"
        _once(self._made, "sqlite-demo", partial(self._make_demo, file))
        return file

    def _make_demo(self, file: Path) -> None:
        shutil.copyfile(self._sqlite_empty(), file)
        # In one process: to start one takes as long as a fifth of the year.
        printed = run_module(
            sqlite_address(file), "tests.run_code", LOAD_DEMO + SIGN_IN, STUDIO_VAR=str(self.demo_var)
        )
        self._demo_session.write_text(printed.split()[-1])

    @property
    def demo_var(self) -> Path:
        """The folder in which the demo left what it tells its owner."""
        return self._made / "demo-var"

    @property
    def _demo_session(self) -> Path:
        return self._made / "demo-session"

    def demo_session(self) -> str:
        """The session cookie of somebody who is signed in to every copy of the demo."""
        self._sqlite_with_demo()
        return self._demo_session.read_text()

    def _postgres_empty(self) -> Cluster:
        cluster = self.cluster()
        self.once("postgres-migrated", lambda: self._migrate_postgres(cluster))
        return cluster

    def _migrate_postgres(self, cluster: Cluster) -> None:
        cluster.run_sql(f"CREATE DATABASE {TEMPLATE}")
        run_module(cluster.url(TEMPLATE), "studio.prepare")

    def once(self, name: str, make: Callable[[], object]) -> None:
        """Do it unless another worker has done it; whoever comes meanwhile waits."""
        _once(self.folder, name, make)


def _once(folder: Path, name: str, make: Callable[[], object]) -> None:
    done = folder / f"{name}.done"
    with (folder / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not done.exists():
            make()
            done.touch()


def copy_into(file: Path, url: str) -> None:
    """Make the database at that address what the file is, pictures and all, also while it is served."""
    copy = Path(url.removeprefix("sqlite:///"))
    with closing(sqlite3.connect(file)) as there, closing(sqlite3.connect(copy)) as here:
        there.backup(here)
    _copy_pictures(file, copy)


def _copy_pictures(source: Path, target: Path) -> None:
    """Whatever pictures lie beside a copy, those of its source lie there now."""
    from studio.kit.photo_files import folder_of

    shutil.rmtree(folder_of(target), ignore_errors=True)
    if folder_of(source).exists():
        shutil.copytree(folder_of(source), folder_of(target))


def on_server() -> bool:
    """Whether the tests' own database is on the PostgreSQL server that this run was given."""
    return "STUDIO_TEST_POSTGRES" in os.environ


def sqlite_address(file: Path) -> str:
    return f"sqlite:///{file}"


def studio_environment(database_url: str) -> dict[str, str]:
    """The environment of a studio of its own: the real settings, on that database."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("STUDIO_")}
    return kept | {
        "DJANGO_SETTINGS_MODULE": "studio.settings",
        "DATABASE_URL": database_url,
        "SECRET_KEY": SECRET_KEY,
        "STUDIO_VAR": os.environ["STUDIO_VAR"],
        "PYTHONUNBUFFERED": "1",
    }


@contextmanager
def standing_at(url: str, limit: str = "") -> Iterator[None]:
    """Make the database at that address this process's own for a while, with the real options.

    It stands outside of any test's transaction (and of pytest-django's guard: `unblocked_database`). Threads and
    processes that begin meanwhile stand on it as well. `limit` is SQL for each of its connections.
    """
    from django.db import DEFAULT_DB_ALIAS, connections
    from django.db.utils import ConnectionHandler

    from inventory.copies.keeping import standing_on
    from studio.environment import read_database

    with patch.dict(os.environ, DATABASE_URL=url):
        database = read_database(Path())
    if limit:
        database["OPTIONS"]["init_command"] += limit
    handler = ConnectionHandler({DEFAULT_DB_ALIAS: database})
    with (
        patch.dict(connections.settings, handler.settings),
        standing_on(handler[DEFAULT_DB_ALIAS]),
    ):
        yield


FORK = multiprocessing.get_context("fork")


@contextmanager
def in_processes(*acts: Callable[[], object]) -> Iterator[list[ForkProcess]]:
    """Have each done in a process of its own, all at once and beside what is done here; all have ended afterwards.

    They are real ones, on the database that this one stands on (`standing_at`), and forked from it: to start each anew
    would take most of the time.
    """
    from django.db import connections

    connections.close_all()
    processes = [FORK.Process(target=act) for act in acts]
    for process in processes:
        process.start()
    try:
        yield processes
    finally:
        for process in processes:
            process.join()


def start_module(
    database_url: str, module: str, *arguments: str, output: int | IO[str] = subprocess.PIPE, **more: str
) -> subprocess.Popen[str]:
    """Start `python -m module` on the database; its two outputs come as one. `more` goes into its environment."""
    return subprocess.Popen(
        [sys.executable, "-m", module, *arguments],
        cwd=ROOT,
        env=studio_environment(database_url) | more,
        stdin=subprocess.DEVNULL,
        stdout=output,
        stderr=subprocess.STDOUT,
        text=True,
    )


def run_module(database_url: str, module: str, *arguments: str, **more: str) -> str:
    """Run `python -m module` to its end; what it printed, or an error that shows it."""
    with start_module(database_url, module, *arguments, **more) as process:
        printed = process.communicate()[0]
    assert process.returncode == 0, (
        f"{module} {' '.join(arguments)} ended with {process.returncode}:\n{printed}"
    )
    return printed


def run_python(database_url: str, code: str, *arguments: str) -> str:
    """Run Python code in a process of its own, with Django set up on the database; sys.argv[1:] as given."""
    return run_module(database_url, "tests.run_code", code, *arguments)


def run_beside(database_url: str, code: str, *arguments: str) -> str:
    """Run the code as `run_python` does, in a thread of this process: to start another one takes a second.

    A thread has connections of its own, and none of the loop in which the browser's driver has the first one wait,
    where Django refuses its database. It needs `unblocked_database` too.
    """
    from django.conf import global_settings
    from django.test import override_settings

    printed = io.StringIO()

    def run() -> None:
        with standing_at(database_url):
            exec(compile(code, "<test>", "exec"), {"__name__": "__main__"})

    own = {"SECRET_KEY": SECRET_KEY, "PASSWORD_HASHERS": global_settings.PASSWORD_HASHERS}
    with (
        override_settings(**own),
        patch.object(sys, "argv", ["<test>", *arguments]),
        redirect_stdout(printed),
        ThreadPoolExecutor(1) as beside,
    ):
        beside.submit(run).result()
    return printed.getvalue()


def session_name(database_url: str) -> str:
    """The name of the session cookie of the studio on that database."""
    return f"session-{name_studio(SECRET_KEY, {**dj_database_url.parse(database_url)})}"


def sign_in(database_url: str) -> str:
    """The session cookie of the first user, who is made when there is none."""
    return run_python(database_url, SIGN_IN).strip()


if __name__ == "__main__":
    Run(Path(sys.argv[1])).make_ready()
