"""What a check of the audit is, and the list of all checks."""

from collections.abc import Callable
from dataclasses import dataclass, field

from .reading import Ledger


@dataclass
class Finding:
    """One check: what was proved, over how many rows, and each thing wrong."""

    promise: str
    checked: int = 0
    problems: list[str] = field(default_factory=list)


Check = Callable[[Ledger], Finding]
checks: list[Check] = []


def register_check(check: Check) -> Check:
    """Add a check to the audit. Used as a decorator."""
    checks.append(check)
    return check
