"""The proof of the ledger's promises over the whole database.

Each check returns what it looked at and what is wrong, with the row's own numbers. Other apps add their checks
with `register_check`; the command `audit` runs them all.
"""

from . import (  # noqa: F401 - they register their checks
    belonging,
    fineness,
    firings,
    lots,
    metal,
    ordering,
    pictures,
    refining,
    tins,
)
from .checks import Finding, Ledger, checks, register_check
from .reading import one_moment

__all__ = ["Finding", "Ledger", "register_check", "run_audit"]


def run_audit() -> list[Finding]:
    ledger = Ledger()
    with one_moment():
        return [check(ledger) for check in checks]
