"""What every test may ask for, and what is left out where a heavier tool is missing."""

import gc
import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from django.core.management import call_command
from django.db import connection, transaction
from django.test import TransactionTestCase

from tests import second_database
from tests.databases import Run, on_server, standing_at
from tests.served import ServedStudio
from tests.tools import describe_left_out, left_out, missing

if TYPE_CHECKING:
    from django.test import Client

    from inventory.models import Studio

RUN_FOLDER = "STUDIO_TEST_RUN"
RUN = pytest.StashKey[Run]()
# To look for rubbish through all that is in memory, at each few hundred new objects, is a tenth of a run's time.
gc.set_threshold(300_000, 20, 20)
OWN_DATABASE = {
    *("fresh_sqlite_url", "fresh_postgres_url", "bare_postgres_url", "real_database"),
    "served_studio",
}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--only-database",
        action="store_true",
        help="run what is worth trying on a second database, and what needs PostgreSQL, as `make test` does there",
    )


def pytest_configure(config: pytest.Config) -> None:
    _tame_hypothesis()
    # The first process makes the folder; its workers inherit the name.
    if not hasattr(config, "workerinput"):
        folder = tempfile.mkdtemp(prefix="studio-run-")
        Path(folder).chmod(0o711)  # the PostgreSQL server runs as another user, in a folder inside
        os.environ[RUN_FOLDER] = folder
        config.stash[RUN] = Run(Path(folder))
        if config.getoption("numprocesses", None):
            config.stash[RUN].begin()


def _tame_hypothesis() -> None:
    """The same examples each time, and a busy machine is no failure."""
    if "hypothesis" in missing():
        return
    from hypothesis import HealthCheck, settings

    settings.register_profile(
        "studio",
        deadline=None,
        derandomize=True,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
    )
    settings.load_profile("studio")


def pytest_unconfigure(config: pytest.Config) -> None:
    if RUN in config.stash and os.environ.pop(RUN_FOLDER, None):
        config.stash[RUN].remove()


def pytest_report_header() -> list[str]:
    line = describe_left_out()
    return [line] if line else []


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    if collection_path in left_out():
        return True
    is_test = collection_path.name.startswith("test_") and collection_path.suffix == ".py"
    if is_test and config.getoption("--only-database"):
        return None if second_database.may_have_some(collection_path, config.args) else True
    return None


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    for item in items:
        _mark_by_place(item)
    kept = items
    if "postgresql" in missing():
        kept = [item for item in kept if item.get_closest_marker("postgres") is None]
    if config.getoption("--only-database"):
        if gone := second_database.misses(items, config.args):
            raise pytest.UsageError(f"tests/second_database.py names tests that are not there: {gone}")
        kept = second_database.choose([item for item in kept if _touches_database(item)], config.args)
    if len(kept) < len(items):
        config.hook.pytest_deselected(items=[item for item in items if item not in set(kept)])
    # What takes long is begun first, or one worker would be left alone with it at the end.
    items[:] = sorted(kept, key=lambda item: item.get_closest_marker("slow") is None)


def pytest_collection_finish() -> None:
    """What is in memory by now stays."""
    gc.collect()
    gc.freeze()


def _call(function: Callable[..., Any], **given: Any) -> Any:
    return function(**given)


# Python keeps the frames of what is running in pieces of 16 KB, and asks the system for the next piece, and gives it
# back, each time a call goes past the end of one: up to a fifteenth of a run's time. A frame that says it needs more
# gets a larger piece, and all that it calls finds room behind it.
_call.__code__ = _call.__code__.replace(co_stacksize=70_000)


@pytest.hookimpl(tryfirst=True)
def pytest_runtestloop(session: pytest.Session) -> Any:
    """All tests run inside one such frame."""
    plugins = session.config.pluginmanager
    here = [plugin for plugin in plugins.get_plugins() if getattr(plugin, "__file__", "") == __file__]
    return _call(plugins.subset_hook_caller("pytest_runtestloop", here), session=session)


def _mark_by_place(item: pytest.Item) -> None:
    # Not by the folders that the studio itself lies in, whatever they are called.
    place = item.path.relative_to(Path(__file__).parent).parts
    if "browser" in place:
        item.add_marker("browser")
    fixtures = set(getattr(item, "fixturenames", ()))
    if "postgres" in place or fixtures & {"fresh_postgres_url", "bare_postgres_url"}:
        item.add_marker("postgres")


def _touches_database(item: pytest.Item) -> bool:
    fixtures = set(getattr(item, "fixturenames", ()))
    if item.get_closest_marker("postgres"):
        return True
    if fixtures & OWN_DATABASE or any(item.get_closest_marker(name) for name in ("browser", "counts")):
        return False
    if item.get_closest_marker("django_db") or fixtures & {"db", "transactional_db"}:
        return True
    case = getattr(item, "cls", None)
    return case is not None and issubclass(case, TransactionTestCase)


@pytest.fixture(scope="session")
def run() -> Run:
    """What all workers of this run share."""
    return Run(Path(os.environ[RUN_FOLDER]))


@pytest.fixture(scope="session")
def django_db_keepdb() -> bool:
    """A worker takes what was lent to it; it lies in the run's folder and goes with it."""
    return "PYTEST_XDIST_WORKER" in os.environ and connection.vendor == "sqlite"


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix: None, run: Run) -> None:
    """Of several workers each takes a copy of one migrated database: to make it is several seconds of work."""
    if "PYTEST_XDIST_WORKER" in os.environ and (connection.vendor == "sqlite" or on_server()):
        run.lend(connection.settings_dict)


@pytest.fixture(scope="module")
def demo_year(
    django_db_setup: None, django_db_blocker: Any, run: Run, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Path]:
    """The demo, for the tests of one file, each of which takes back what it writes; where its sign-in was kept.

    On SQLite it is a copy of the run's; on a server it is loaded into the tests' own database, and taken back.
    """
    folder = tmp_path_factory.mktemp("demo-year")
    with django_db_blocker.unblock(), pytest.MonkeyPatch.context() as patch:
        patch.setattr("django.conf.settings.VAR_DIR", folder)
        if connection.vendor == "sqlite":
            with standing_at(run.fresh_sqlite(folder, demo=True)):
                yield run.demo_var
        else:
            with transaction.atomic():
                call_command("demo", verbosity=0)
                yield folder
                transaction.set_rollback(True)


@pytest.fixture
def studio(db: None) -> "Studio":
    """A studio that is set up; the one that is there, where a test has set up its own."""
    from inventory.queries.studio import NotSetUp, current_studio
    from tests import workshop

    try:
        return current_studio()
    except NotSetUp:
        return workshop.make_studio()


@pytest.fixture
def bench(client: "Client", studio: "Studio") -> "Client":
    """Somebody signed in, in a studio that is set up."""
    from django.contrib.auth.models import User

    from tests.support import PASSWORD, let_in

    let_in(client, User.objects.create_user("Ada", password=PASSWORD))
    return client


@pytest.fixture
def fresh_sqlite_url(run: Run, tmp_path: Path) -> str:
    """A migrated, empty SQLite file of this test's own, as an address for DATABASE_URL."""
    return run.fresh_sqlite(tmp_path)


@pytest.fixture
def fresh_postgres_url(run: Run) -> Iterator[str]:
    """A migrated, empty PostgreSQL database of this test's own."""
    with run.fresh_postgres() as url:
        yield url


@pytest.fixture
def bare_postgres_url(run: Run) -> Iterator[str]:
    """A PostgreSQL database of this test's own in which there is nothing yet."""
    with run.fresh_postgres(migrated=False) as url:
        yield url


@pytest.fixture
def unblocked_database(django_db_blocker: object) -> Iterator[None]:
    """For tests that go to databases of their own with `standing_at`, in this process."""
    with django_db_blocker.unblock():
        yield


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def real_database(request: pytest.FixtureRequest) -> str:
    """First the one, then the other: for what must hold with several processes at once on both."""
    return str(request.getfixturevalue(f"fresh_{request.param}_url"))


@pytest.fixture
def served_studio() -> Iterator[Callable[[str], ServedStudio]]:
    """`served_studio(database_url)` starts a studio on that database; it is stopped when the test ends."""
    with ExitStack() as stack:
        yield lambda database_url: stack.enter_context(ServedStudio(database_url))
