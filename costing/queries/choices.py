"""Reads of which casts are asked about."""

from datetime import date

from inventory.models import Alloy, Cast


def latest_closed_cast() -> Cast | None:
    return Cast.objects.filter(closed_on__isnull=False).order_by("-day", "-number").first()


def closed_cast_ids(first: date, last: date, alloy: Alloy | None = None) -> list[int]:
    """The casts poured in a time and closed since."""
    casts = Cast.objects.filter(closed_on__isnull=False, day__gte=first, day__lte=last)
    if alloy is not None:
        casts = casts.filter(alloy=alloy)
    return list(casts.values_list("pk", flat=True))
