"""What of the stock is usable, as a condition on its lots."""

from datetime import date

from django.db.models import Q


def usable_on(day: date, lot: str = "") -> Q:
    """Lots that `core.keeping.is_usable` allows on a day; `lot` is the path to them, such as "lots__"."""
    in_date = Q(**{f"{lot}use_by__isnull": True}) | Q(**{f"{lot}use_by__gte": day})
    return Q(**{f"{lot}is_damp": False}) & in_date
