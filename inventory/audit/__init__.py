"""The proof of the ledger's promises over the whole database.

Each check returns what it looked at and what is wrong, with the row's own numbers. Other apps add their checks
with `register_check`; the command `audit` runs them all.
"""

import gc
from collections.abc import Iterator
from contextlib import contextmanager

from .checks import Finding, Ledger, checks, register_check
from .reading import read_ledger

__all__ = ["Finding", "Ledger", "register_check", "run_audit"]


def run_audit() -> list[Finding]:
    with _no_garbage_runs():
        ledger = read_ledger()
        return [check(ledger) for check in checks]


@contextmanager
def _no_garbage_runs() -> Iterator[None]:
    """The whole books are held at once and make no cycles: to look for some takes a fifth of the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
