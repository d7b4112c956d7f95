"""What a table holds its rows to, said with the name first."""

from typing import Any

from django.db.models import CheckConstraint, Q


def check(name: str, condition: Q | None = None, **lookups: Any) -> CheckConstraint:
    """A row must meet the condition, or look as the lookups say."""
    return CheckConstraint(condition=Q(**lookups) if condition is None else condition, name=name)
