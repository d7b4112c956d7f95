"""Bringing a copy back: proved before anything is touched, whole or not at all, and never over a studio unasked."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.contrib.auth.models import User
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction

from inventory.audit import run_audit
from inventory.models import Studio
from studio.kit.photo_files import folder_of
from studio.kit.schema import refuse_newer
from studio.kit.trouble import BUSY, DAMAGED, explain

from .keeping import (
    DOUBTFUL,
    Checked,
    check_here,
    claim_name,
    copy_name,
    drafted,
    looking_at,
    open_file,
    settle,
    write_copy,
    write_pages,
)
from .pictures import drop_others, lay_in_folder, put_aside, strip, take_along
from .rows import replace_rows

ASIDE = "-aside"


class NotRestored(Exception):
    """Why nothing was changed, as a sentence for the person."""


@dataclass(frozen=True, slots=True)
class Restored:
    """What was found in the copy, and where the studio that was here before lies now."""

    checked: Checked
    aside: Path | None


def restore(file: Path, *, replace: bool = False, anyway: bool = False) -> Restored:
    """Put the studio in the copy `file` where the settings keep theirs.

    A copy of an older version is brought up to date on the way; the file itself stays as it is. With `replace`
    a studio that is here is put aside, with `anyway` a copy is taken in which the audit finds something wrong.
    Raises NotRestored, NotACopy, WrongVersion.
    """
    folder = _own_file().parent if connection.vendor == "sqlite" else settings.VAR_DIR
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    in_use = _is_in_use()
    if in_use and not replace:
        raise NotRestored(
            "There is a studio here already. With --replace it is put aside, and the copy takes its place."
        )
    with _proved(file, folder, anyway=anyway) as (draft, checked):
        aside = _put_file(draft) if connection.vendor == "sqlite" else _put_rows(draft, checked)
    drop_others()
    if aside is not None and not in_use:
        aside.unlink()  # tables that nobody had used yet
        aside = None
    return Restored(checked, aside)


@contextmanager
def _proved(file: Path, folder: Path, *, anyway: bool) -> Iterator[tuple[Path, Checked]]:
    """A draft of the copy, of this version, that adds up."""
    with drafted(folder) as draft:
        with looking_at(file):
            refuse_newer()
            write_pages(draft)
        with looking_at(draft):
            call_command("migrate", interactive=False, verbosity=0)
            take_along(folder_of(file.absolute()))  # a studio's own file has them beside it
            checked = check_here()
        if checked.problems and not anyway:
            raise NotRestored(
                f"The copy does not add up: {checked.problems[0]} (and {len(checked.problems) - 1} more)."
                " Take another one, or this one all the same with --anyway."
            )
        yield draft, checked


def _is_in_use() -> bool:
    """Whether somebody set up a studio here; a database that cannot be read is taken for one."""
    if connection.vendor == "sqlite" and not _own_file().exists():
        return False
    try:
        tables = connection.introspection.table_names()
        if Studio._meta.db_table not in tables:
            return bool(tables)
        return Studio.objects.exists() or User.objects.exists()
    except DatabaseError as error:
        if explain(error) is DAMAGED:
            return True
        raise


def _own_file() -> Path:
    return Path(str(connection.settings_dict["NAME"])).absolute()


def _put_file(draft: Path) -> Path | None:
    """SQLite: the file that was here gets another name, and the draft takes its own; pictures go before it."""
    own, aside = _own_file(), None
    connection.close()
    if own.exists():
        _fold_in(own)
        aside = claim_name(own.parent, copy_name(ASIDE))
        # The file gets a second name before the draft takes its first: a crash between the two leaves a studio.
        aside.unlink()
        try:
            os.link(own, aside)
        except OSError:
            own.replace(aside)  # a disk that knows no second names
        for ending in ("-wal", "-shm"):
            if (part := Path(f"{own}{ending}")).exists():
                part.replace(f"{aside}{ending}")
        put_aside(folder_of(own), folder_of(aside))
    lay_in_folder(draft)
    strip(draft)
    settle(draft, own)
    return aside


def _fold_in(own: Path) -> None:
    """What the database keeps in files beside it goes into it; SQLite does that for the last to leave only."""
    with closing(sqlite3.connect(own, timeout=2)) as database:
        try:
            database.execute("PRAGMA journal_mode=DELETE")
        except sqlite3.DatabaseError as error:
            if explain(error) is BUSY:
                raise NotRestored("The studio is open. Close it, and bring the copy back then.") from error
            # A damaged one is put aside as it is, with what lies beside it.


def _put_rows(draft: Path, checked: Checked) -> Path | None:
    """PostgreSQL: the rows that were here go into a copy, and the draft's take their place in one transaction."""
    refuse_newer()
    call_command("migrate", interactive=False, verbosity=0)
    with transaction.atomic(), closing(open_file(draft)) as source:
        # Whoever posts waits at the studio's row, so nothing comes between the copy and what follows.
        in_use = Studio.objects.select_for_update().first() is not None or User.objects.exists()
        aside = _put_rows_aside() if in_use else None
        replace_rows(source)
        lay_in_folder(draft)
        wrong = [problem for finding in run_audit() for problem in finding.problems]
        if len(wrong) > len(checked.problems):
            raise NotRestored(f"Brought over, the copy does not add up: {wrong[0]}. Nothing was changed.")
    return aside


def _put_rows_aside() -> Path:
    with drafted(settings.VAR_DIR) as draft:
        mark = f"{ASIDE}{DOUBTFUL}" if write_copy(draft).problems else ASIDE
        return settle(draft, claim_name(settings.VAR_DIR, copy_name(mark)))
