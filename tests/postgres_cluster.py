"""A PostgreSQL server for one test run: made in a folder of its own, and thrown away with it.

`python -m tests.postgres_cluster COMMAND...` runs a command with DATABASE_URL set to such a server.
"""

import os
import pwd
import shutil
import signal
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from urllib.parse import quote

from tests.tools import find_postgresql

# Speed before safety: the data is thrown away. No network: it is reached through a socket in its folder.
SERVER_OPTIONS = (
    "-c fsync=off -c full_page_writes=off -c synchronous_commit=off -c wal_level=minimal -c max_wal_senders=0 "
    "-c autovacuum=off -c jit=off -c checkpoint_timeout=1h -c max_wal_size=4GB "
    "-c max_connections=60 -c listen_addresses='' "
    "-c unix_socket_directories='{folder}'"
)


@dataclass(frozen=True)
class Cluster:
    """A running server; its socket, data and log are in `folder`."""

    folder: Path

    def url(self, database: str) -> str:
        """The address of one of its databases, for DATABASE_URL."""
        return f"postgresql://postgres@{quote(str(self.folder), safe='')}/{database}"

    def run_sql(self, sql: str) -> None:
        import psycopg

        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(sql)  # type: ignore[call-overload]

    def stop(self) -> None:
        _run(self.folder, "pg_ctl", "-D", str(self.folder / "data"), "-m", "immediate", "-w", "stop")
        shutil.rmtree(self.folder, ignore_errors=True)


def start_cluster(folder: Path) -> Cluster:
    """Make and start a server in `folder`, which must not exist yet."""
    folder.mkdir(mode=0o755)
    if os.geteuid() == 0:
        shutil.chown(folder, _server_user())
    data = str(folder / "data")
    _run(
        folder,
        "initdb",
        "-D",
        data,
        "-U",
        "postgres",
        "-E",
        "UTF8",
        "--no-locale",
        "--auth=trust",
        "--no-sync",
    )
    options = SERVER_OPTIONS.format(folder=folder)
    _run(folder, "pg_ctl", "-D", data, "-l", str(folder / "log"), "-o", options, "-w", "start")
    return Cluster(folder)


def _run(folder: Path, program: str, *arguments: str) -> None:
    """Run one of the server's programs, as a person without rights: as root they refuse to start."""
    programs = find_postgresql()
    if programs is None:
        raise RuntimeError("PostgreSQL's server programs are not on this machine.")
    command = [str(programs / program), *arguments]
    if os.geteuid() == 0:
        command = ["runuser", "-u", _server_user(), "--", *command]
    # Output goes to a file, not to a pipe: the server would hold the pipe open and keep us waiting.
    with tempfile.TemporaryFile() as output:
        done = subprocess.run(
            command, cwd=folder, stdin=subprocess.DEVNULL, stdout=output, stderr=output, check=False
        )
        output.seek(0)
        if done.returncode:
            raise RuntimeError(f"{program} failed: {output.read().decode(errors='replace')}")


def _server_user() -> str:
    known = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in known else "nobody"


def main(command: list[str]) -> int:
    """Run the command beside a server of its own; its exit status is ours."""
    signal.signal(signal.SIGTERM, _stop)
    folder = Path(tempfile.mkdtemp(prefix="studio-pg-"))
    folder.chmod(0o711)
    try:
        cluster = start_cluster(folder / "cluster")
        try:
            environment = {
                "DATABASE_URL": cluster.url("postgres"),
                "STUDIO_TEST_POSTGRES": str(cluster.folder),
            }
            return subprocess.run(command, env={**os.environ, **environment}, check=False).returncode
        finally:
            cluster.stop()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _stop(_signal: int, _frame: FrameType | None) -> None:
    raise SystemExit(1)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
