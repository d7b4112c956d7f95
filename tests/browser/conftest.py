"""The browser, and the studios it looks at.

Everything here ends with this folder: while the browser's driver runs, Django refuses other tests its database.
"""

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.browser_support import LOOKS, Look, open_browser, open_page
from tests.databases import Run, copy_into
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


class OneServer:
    """The studio that is served once for all tests; its database becomes what each of them asks for.

    A server of its own would take two seconds to start, and as long again to draw each page for the first time.
    """

    def __init__(self, run: Run, studio: ServedStudio) -> None:
        self.run, self.studio = run, studio
        self._is_the_demo = True

    def with_the_demo(self) -> ServedStudio:
        """With the demo as it was loaded, for who only looks."""
        if not self._is_the_demo:
            self.run.bring_back_demo(self.studio.database_url)
        self._is_the_demo = True
        return self.studio

    def with_a_demo_to_change(self) -> ServedStudio:
        """With the demo as it was loaded, until another asks for it: no other test is at it meanwhile."""
        self.with_the_demo()
        self._is_the_demo = False
        return self.studio

    def with_a_copy(self, file: Path) -> ServedStudio:
        """With what stands in a file that was made of the demo."""
        self._is_the_demo = False
        copy_into(file, self.studio.database_url)
        return self.studio


@pytest.fixture(scope="package")
def one_server(run: Run, tmp_path_factory: pytest.TempPathFactory) -> Iterator[OneServer]:
    url = run.fresh_sqlite(tmp_path_factory.mktemp("served"), demo=True)
    with ServedStudio(url, run.demo_session()) as studio:
        yield OneServer(run, studio)


@pytest.fixture
def demo_studio(one_server: OneServer) -> ServedStudio:
    """The demo, for a test that only looks, or whose change no other looks at."""
    return one_server.with_the_demo()


@pytest.fixture
def own_demo_studio(one_server: OneServer) -> ServedStudio:
    """The demo as it was loaded, for a test that changes something."""
    return one_server.with_a_demo_to_change()


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
