"""What can go wrong with the ground under the studio, said in a sentence: a full disk, a database that is gone.

None of it is a fault of the program, and a trace helps nobody with it. What is not known here stays what it was.
"""

import errno
import logging
from dataclasses import dataclass
from typing import Any

from django.db import DatabaseError, InterfaceError, OperationalError


@dataclass(frozen=True, slots=True)
class Trouble:
    """What the matter is, in a sentence for the person, and the status of a page that says it."""

    sentence: str
    status: int = 503


FULL = Trouble("The disk is full: nothing more can be saved until there is room on it.", 507)
READ_ONLY = Trouble(
    "The database can be read but not written: its file or folder may not be changed, or the disk is read-only."
)
DAMAGED = Trouble(
    "The database is damaged. Close the studio, leave the file as it is, and bring back a copy with"
    " `manage.py restore FILE --replace`."
)
DISK = Trouble("The disk does not do what it should: the database could not be read or written.")
CLOSED = Trouble("The database file cannot be opened: it or its folder is gone, or may not be opened.")
GONE = Trouble("The database cannot be reached: its server does not answer, or turns the studio away.")
BUSY = Trouble("The database is busy with something that takes long. Try once more in a moment.")
STRANGE = Trouble(
    "The database is not prepared for this version of the studio, or was taken away. Close the studio and run"
    " this: python manage.py migrate"
)


def _by_code(codes_of: dict[Trouble, tuple[Any, ...]]) -> dict[Any, Trouble]:
    return {code: trouble for trouble, codes in codes_of.items() for code in codes}


# The first byte of SQLite's result codes: https://www.sqlite.org/rescode.html
_SQLITE = _by_code(
    {
        READ_ONLY: (3, 8, 23),
        BUSY: (5, 6),
        DISK: (10,),
        DAMAGED: (11, 26),
        FULL: (13,),
        CLOSED: (14,),
    }
)
_SQLITE_STRANGE = ("no such table", "no such column", "has no column named")
# PostgreSQL's SQLSTATE codes, or how a class of them begins:
# https://www.postgresql.org/docs/current/errcodes-appendix.html
_POSTGRES = _by_code(
    {
        FULL: ("53100",),
        READ_ONLY: ("25006",),
        DAMAGED: ("XX001", "XX002"),
        DISK: ("58",),
        GONE: ("08", "28", "3D", "53300", "57P"),
        BUSY: ("40", "55P03", "57014"),
        STRANGE: ("42P01", "42703"),
    }
)
_SYSTEM = _by_code(
    {
        FULL: (errno.ENOSPC, errno.EDQUOT),
        READ_ONLY: (errno.EROFS, errno.EACCES, errno.EPERM),
        DISK: (errno.EIO,),
        BUSY: (errno.EAGAIN,),
    }
)


def explain(error: BaseException | None) -> Trouble | None:
    """The trouble behind an error of the database or the disk; None when it is something else."""
    while error is not None:
        trouble = _explain_one(error)
        if trouble is not None:
            return trouble
        # Migrating hides the database's own error behind one that does not name it as its cause.
        error = error.__cause__ or (error.__context__ if isinstance(error, DatabaseError) else None)
    return None


def _explain_one(error: BaseException) -> Trouble | None:
    code = getattr(error, "sqlite_errorcode", None)
    if code is not None:
        strange = any(words in str(error) for words in _SQLITE_STRANGE)
        return _SQLITE.get(code & 0xFF, STRANGE if strange else None)
    state = getattr(error, "sqlstate", None)
    if state:
        return next((_POSTGRES[state[:n]] for n in (5, 3, 2) if state[:n] in _POSTGRES), None)
    if isinstance(error, OperationalError | InterfaceError):
        # PostgreSQL's driver has no code for a connection that failed or broke.
        driver = type(error.__cause__).__module__.startswith("psycopg")
        return GONE if driver and not getattr(error.__cause__, "sqlstate", None) else None
    return _SYSTEM.get(error.errno or 0) if isinstance(error, OSError) else None


class SayTrouble(logging.Filter):
    """In the log too: a known trouble is a sentence, and no trace."""

    def filter(self, record: logging.LogRecord) -> bool:
        trouble = explain(record.exc_info[1]) if record.exc_info else None
        if trouble is not None:
            record.msg, record.args = "%s: %s", (record.getMessage(), trouble.sentence)
            record.exc_info = record.exc_text = None
        return True
