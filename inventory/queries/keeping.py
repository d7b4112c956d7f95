"""What of the stock is here, and what of it is usable."""

from datetime import date

from django.db.models import Q, QuerySet

from inventory.models import Lot

#: Lots that hold something.
ON_HAND = Q(void=False, holder__quantity__gt=0)


def lots_here(**which: object) -> QuerySet[Lot]:
    """The lots that hold something and fit, oldest first."""
    return Lot.objects.filter(ON_HAND, **which)


def usable_on(day: date, lot: str = "") -> Q:
    """Lots that `core.keeping.is_usable` allows on a day; `lot` is the path to them, such as "lots__"."""
    in_date = Q(**{f"{lot}use_by__isnull": True}) | Q(**{f"{lot}use_by__gte": day})
    return Q(**{f"{lot}is_damp": False}) & in_date
