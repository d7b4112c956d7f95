"""`python -m studio.prepare`: bring the database up to date; with `--demo`, fill an empty one with the demo."""

import fcntl
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import django
from django.core.management import call_command

from studio.environment import POSTGRESQL
from studio.starting import plainly

# Any number will do, if nothing else in the database takes the same: the letters of "cast".
_POSTGRES_LOCK = 0x63617374


def main(arguments: list[str]) -> None:
    if arguments not in ([], ["--demo"]):
        sys.exit("Use: python -m studio.prepare [--demo]")
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    try:
        with plainly():
            django.setup()
            with one_at_a_time():
                bring_up_to_date()
                sweep_pictures()
                if arguments:
                    load_demo()
    except KeyboardInterrupt:
        sys.exit("Stopped. Nothing was loaded by halves: run the same command again.")


def bring_up_to_date() -> None:
    """Migrate; what a newer version has changed is left alone."""
    from studio.kit.schema import refuse_newer

    refuse_newer()
    call_command("migrate", interactive=False, verbosity=0)


def sweep_pictures() -> None:
    """Take away files that a crash left between a picture and its row."""
    from inventory.posting.pictures import sweep_files

    sweep_files()


@contextmanager
def one_at_a_time() -> Iterator[None]:
    """Of two first starts at once, the second waits until the first has made the database."""
    from django.db import connection

    if connection.settings_dict["ENGINE"] == POSTGRESQL:
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_lock(%s)", [_POSTGRES_LOCK])
            yield  # the connection's end would open it, however that comes about
            cursor.execute("SELECT pg_advisory_unlock(%s)", [_POSTGRES_LOCK])
        return
    folder = os.open(Path(connection.settings_dict["NAME"]).absolute().parent, os.O_RDONLY)
    try:
        with suppress(OSError):  # some disks in a network have no locks
            fcntl.flock(folder, fcntl.LOCK_EX)
        yield
    finally:
        os.close(folder)


def load_demo() -> bool:
    """Load the demo into a studio that nobody uses yet; say whether it was loaded.

    A load is one transaction: stopped half way it leaves nothing behind, and the next start loads it again.
    """
    from django.contrib.auth import get_user_model

    if get_user_model().objects.exists():
        return False
    call_command("demo")
    return True


if __name__ == "__main__":
    main(sys.argv[1:])
