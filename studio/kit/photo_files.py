"""Where pictures lie: a folder beside the studio's database, for its owner only; each under a name of chance.

A name stands for two files that never change: the picture, and a small one for rows and lists.
"""

import os
import secrets
import time
from collections.abc import Container, Iterator
from hashlib import sha256
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.utils.text import slugify

FOLDER = "pictures"
ENDINGS = {"large": ".jpg", "small": "-small.jpg"}
NAME_BYTES = 16
#: What nobody names is left alone for so long: its row may be on its way.
YOUNG_SECONDS = 3600


def photo_folder() -> Path:
    """The folder of the database that this thread stands on; each studio that is kept in one place has its own."""
    name = Path(str(connection.settings_dict["NAME"])).absolute()
    return (
        folder_of(name) if connection.vendor == "sqlite" else settings.VAR_DIR / FOLDER / slugify(name.stem)
    )


def folder_of(file: Path) -> Path:
    """The folder of a studio that is kept in this SQLite file."""
    return file.parent / FOLDER / file.name.removesuffix(".sqlite3")


def photo_file(name: str, size: str = "large", folder: Path | None = None) -> Path:
    return (folder or photo_folder()) / f"{name}{ENDINGS[size]}"


def new_name() -> str:
    return secrets.token_hex(NAME_BYTES)


def digest_of(large: bytes, small: bytes) -> str:
    """A checksum of both files."""
    return sha256(sha256(large).digest() + sha256(small).digest()).hexdigest()


def write_files(name: str, large: bytes, small: bytes, folder: Path | None = None) -> None:
    """Both files, on the disk for good. Raises OSError; nothing of them is left then."""
    folder = folder or photo_folder()
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    try:
        for size, content in (("large", large), ("small", small)):
            _write_through(photo_file(name, size, folder), content)
    except OSError:
        remove_files(name, folder)
        raise
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _write_through(file: Path, content: bytes) -> None:
    file.touch(mode=0o600, exist_ok=False)
    with file.open("wb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())


def read_files(name: str, folder: Path | None = None) -> tuple[bytes, bytes] | None:
    """The picture and the small one; None where one of them is not there or cannot be read."""
    try:
        large, small = (photo_file(name, size, folder).read_bytes() for size in ENDINGS)
    except OSError:
        return None
    return large, small


def remove_files(name: str, folder: Path | None = None) -> None:
    for size in ENDINGS:
        photo_file(name, size, folder).unlink(missing_ok=True)


def names_in(folder: Path) -> Iterator[tuple[str, Path]]:
    """(name, file) of each file that is a picture's."""
    for file in folder.iterdir() if folder.is_dir() else ():
        name = file.name.removesuffix(ENDINGS["large"]).removesuffix("-small")
        if len(name) == 2 * NAME_BYTES and file.suffix == ENDINGS["large"]:
            yield name, file


def sweep(known: Container[str], young_seconds: int = YOUNG_SECONDS) -> int:
    """Take away files that belong to no picture, as a crash between file and row leaves them; how many."""
    now, gone = time.time(), 0
    for name, file in list(names_in(photo_folder())):
        if name not in known and now - file.stat().st_mtime >= young_seconds:
            file.unlink(missing_ok=True)
            gone += 1
    return gone


#: The table of a copy that its pictures travel in: no model's, for a studio itself has none.
COPIED = "copied_pictures"


def has_copied() -> bool:
    """Whether this thread stands on a copy that has its pictures in it."""
    return COPIED in connection.introspection.table_names()


def read_copied(name: str) -> tuple[bytes, bytes] | None:
    """Both files out of the copy that this thread stands on; None where it has none of that name."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT large, small FROM {COPIED} WHERE name = %s", [name])  # noqa: S608 - our own name
        found = cursor.fetchone()
    return None if found is None else (bytes(found[0]), bytes(found[1]))
