"""Pictures travel inside the one file of a copy, in a table of their own, and go back in the folder from there."""

import os
import shutil
import sqlite3
from collections.abc import Collection, Iterator
from contextlib import closing
from pathlib import Path

from django.db import connection, transaction

from inventory.models import Picture
from studio.kit.photo_files import (
    COPIED,
    has_copied,
    names_in,
    photo_folder,
    read_files,
    sweep,
    write_files,
)


def take_along(folder: Path) -> set[str]:
    """Put the files of all pictures into the copy that this thread stands on; the names that `folder` lacks.

    Does nothing to a copy that has its pictures already.
    """
    if has_copied():
        return set()
    missing: set[str] = set()
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            f"CREATE TABLE {COPIED} (name TEXT PRIMARY KEY, large BLOB NOT NULL, small BLOB NOT NULL)"
        )
        for row in _rows(folder, missing):
            cursor.execute(f"INSERT INTO {COPIED} VALUES (%s, %s, %s)", row)  # noqa: S608 - our own name
    return missing


def _rows(folder: Path, missing: set[str]) -> Iterator[tuple[str, bytes, bytes]]:
    for name in list(Picture.objects.order_by("pk").values_list("name", flat=True)):
        files = read_files(name, folder)
        if files is None:
            missing.add(name)
        else:
            yield (name, *files)


def still_there(names: Collection[str]) -> set[str]:
    """Which of these pictures the studio still has."""
    return set(Picture.objects.filter(name__in=names).values_list("name", flat=True)) if names else set()


def let_go(names: Collection[str]) -> None:
    """Take pictures out of the copy that were removed from the studio while it was written."""
    if names:
        Picture.objects.filter(name__in=names).delete()


def lay_in_folder(draft: Path) -> None:
    """Put the pictures of a copy into this studio's folder, beside what lies there: no file is written over."""
    folder = photo_folder()
    there = {name for name, _ in names_in(folder)}
    with closing(sqlite3.connect(draft)) as copy:
        for name, large, small in copy.execute(f"SELECT name, large, small FROM {COPIED}"):  # noqa: S608 - our own
            if name not in there:
                write_files(name, large, small)


def strip(draft: Path) -> None:
    """Take the pictures out of a draft that is to be the studio itself."""
    with closing(sqlite3.connect(draft)) as copy:
        copy.execute(f"DROP TABLE IF EXISTS {COPIED}")
        copy.execute("VACUUM")


def put_aside(folder: Path, aside: Path) -> None:
    """Give each picture of `folder` a second place in `aside`, for the studio that is put aside with them."""
    for _, file in names_in(folder):
        aside.mkdir(mode=0o700, parents=True, exist_ok=True)
        try:
            os.link(file, aside / file.name)
        except OSError:
            shutil.copyfile(file, aside / file.name)  # a disk that knows no second names


def drop_others() -> None:
    """Take away the files that belong to none of this studio's pictures."""
    sweep(still_here(), young_seconds=0)


def still_here() -> set[str]:
    return set(Picture.objects.values_list("name", flat=True))
