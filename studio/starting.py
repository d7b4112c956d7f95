"""Starting anything of the studio: what stands in the way is said in a sentence."""

import sqlite3
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured
from django.core.management import CommandError
from django.db import Error, InterfaceError, OperationalError, connection

from studio.kit.schema import WrongVersion
from studio.kit.trouble import explain


@contextmanager
def plainly() -> Iterator[None]:
    """End with a sentence where a setting, the database or the disk stands in the way.

    An error of the program itself passes through.
    """
    try:
        yield
    except (ImproperlyConfigured, CommandError, WrongVersion) as error:
        sys.exit(str(error))
    except (Error, sqlite3.Error, OSError) as error:
        sentence = describe(error)
        if sentence is None:
            raise
        sys.exit(sentence)


def describe(error: BaseException) -> str | None:
    """The sentence, with the place and what the system itself says of it; None for an error of the program."""
    trouble = explain(error)
    if trouble is None and not isinstance(error, OperationalError | InterfaceError):
        return None
    sentence = trouble.sentence if trouble else "The database cannot be used."
    said = " ".join(str(error.__cause__ or error).split())
    if isinstance(error, OSError):
        return f"{sentence} ({error.filename}: {error.strerror})" if error.filename else sentence
    return f"{sentence} ({_place()}: {said})"


def _place() -> str:
    """The database, as far as it may be shown: its password is nowhere."""
    database = connection.settings_dict
    if database["ENGINE"].endswith("sqlite3"):
        return str(Path(database["NAME"]))
    return f"database {database['NAME']} on {database.get('HOST') or 'this machine'}"
