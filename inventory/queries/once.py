"""Which forms were saved already, by their one-time keys."""

from uuid import UUID

from inventory.models import OnceKey


def result_of(key: UUID) -> str:
    """The address that the form of this key led on to when it was saved; "" for one that was not saved yet."""
    return OnceKey.objects.filter(pk=key).values_list("result_url", flat=True).first() or ""
