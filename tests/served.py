"""A studio that is really served: waitress in a process of its own, on a database that is thrown away."""

import re
import subprocess
import tempfile
import time
from types import TracebackType
from typing import Self

from tests.databases import run_module, session_name, sign_in, start_module


class ServedStudio:
    """`with ServedStudio(database_url) as studio:` — its address is `studio.url`, without a slash at the end."""

    def __init__(self, database_url: str, session: str = "", **environment: str) -> None:
        """`session` is the cookie of one that the database has already."""
        self.database_url = database_url
        self.exit_status: int | None = None
        self._session = session
        # A file and not a pipe: a pipe that nobody empties would stop a server with much to say.
        self._output = tempfile.TemporaryFile("w+")  # noqa: SIM115 - closed by stop()
        own = {"PORT": "0", "STUDIO_BIND": "127.0.0.1", **environment}
        self._process = start_module(database_url, "studio.serve", output=self._output, **own)
        self.url = self._wait_for_address()

    def _wait_for_address(self) -> str:
        last_moment = time.monotonic() + 60
        while time.monotonic() < last_moment and self._process.poll() is None:
            if found := re.search(r"open at (http://(?:127\.0\.0\.1|\[::1\]):\d+)/", self._printed()):
                return found[1]
            time.sleep(0.05)
        raise AssertionError(f"The studio was not served:\n{self.stop()}")

    def _printed(self) -> str:
        self._output.seek(0)
        return self._output.read()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        print(self.stop())  # pytest shows it beside a failure

    def stop(self) -> str:
        """Stop it as a person would; all that it printed, errors included."""
        if self.exit_status is not None:
            return ""
        self._process.terminate()
        try:
            self.exit_status = self._process.wait(timeout=20)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self.exit_status = self._process.wait()
        with self._output:
            return self._printed()

    def cut_off(self) -> None:
        """End it as a power cut does: in the middle of whatever it is at."""
        self._process.kill()
        self.stop()

    def session_cookie(self) -> tuple[str, str]:
        """Name and value of the session cookie of the first user, who is made when there is none."""
        if not self._session:
            self._session = sign_in(self.database_url)
        return session_name(self.database_url), self._session

    def welcome_key(self) -> str:
        """The key in the link that it printed for the first person."""
        found = re.search(r"/welcome/\?key=(\w+)", self._printed())
        assert found is not None, "it has a user already"
        return found[1]

    def manage(self, *arguments: str) -> str:
        """Run a command of manage.py on its database."""
        return run_module(self.database_url, "manage", *arguments)
