"""The browser, and the studios it looks at.

Everything here ends with this folder: while the browser's driver runs, Django refuses other tests its database.
"""

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from functools import partial
from typing import TYPE_CHECKING, Any

import pytest

from tests.browser_support import LOOKS, Look, open_browser, open_page
from tests.databases import Run
from tests.served import ServedStudio

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

OpenPage = Callable[..., "Page"]


@pytest.fixture(scope="package", autouse=True)
def _beside(django_db_blocker: Any) -> Iterator[None]:
    """What the tests of this folder write beside the browser (`run_beside`), they write to databases of their own."""
    with django_db_blocker.unblock():
        yield


@pytest.fixture(scope="package")
def browser() -> "Iterator[Browser]":
    with open_browser() as browser:
        yield browser


@pytest.fixture(scope="package")
def demo_studio(run: Run, tmp_path_factory: pytest.TempPathFactory) -> Iterator[ServedStudio]:
    """The demo, served once for all tests that only look."""
    with ServedStudio(
        run.fresh_sqlite(tmp_path_factory.mktemp("demo"), demo=True), run.demo_session()
    ) as studio:
        yield studio


@pytest.fixture(scope="package")
def changing_studio(run: Run, tmp_path_factory: pytest.TempPathFactory) -> Iterator[ServedStudio]:
    """The demo, served once for all tests that change something; `own_demo_studio` hands it on."""
    url = run.fresh_sqlite(tmp_path_factory.mktemp("changing"), demo=True)
    with ServedStudio(url, run.demo_session()) as studio:
        yield studio


@pytest.fixture
def own_demo_studio(run: Run, changing_studio: ServedStudio) -> ServedStudio:
    """The demo as it was loaded, for a test that changes something: no other test is at it meanwhile."""
    run.bring_back_demo(changing_studio.database_url)
    return changing_studio


@pytest.fixture
def empty_studio(fresh_sqlite_url: str) -> Iterator[ServedStudio]:
    """A studio on its first day: no user, no material."""
    with ServedStudio(fresh_sqlite_url) as studio:
        yield studio


@pytest.fixture(params=LOOKS, ids=str)
def look(request: pytest.FixtureRequest) -> Look:
    """Phone and desk, each in the light and in the dark."""
    return request.param  # type: ignore[no-any-return]


@pytest.fixture
def open_in(browser: "Browser") -> Iterator[OpenPage]:
    """`open_in(studio, look)`, or `open_in(studio, look, signed_in=False)`: a page in that studio."""
    with ExitStack() as stack:
        opened = partial(open_page, browser)
        yield lambda studio, look=LOOKS[2], **how: stack.enter_context(opened(studio, look, **how))
