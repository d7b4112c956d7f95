"""What was here of each material to date: the left half of the picture of what may be left."""

from collections.abc import Sequence
from datetime import date, timedelta

from django.db.models import Sum

from inventory.core.reorder import DAYS_PER_WEEK
from inventory.models import Movement

from .ledger import STANDING
from .outlook import MaterialOutlook, is_new

TO_DATE_WEEKS = 26


def stock_to_date(outlooks: Sequence[MaterialOutlook], today: date) -> None:
    """Give each what was here at the end of each week: what is here now, less what came and went since. Two queries."""
    materials = [one.material.pk for one in outlooks]
    first_day = today - timedelta(days=TO_DATE_WEEKS * DAYS_PER_WEEK)
    moved: dict[int, dict[int, int]] = {pk: {} for pk in materials}
    for side, sign in (("source", -1), ("target", 1)):
        rows = (
            Movement.objects.filter(
                STANDING,
                is_new(f"{side}__lot__"),
                entry__day__range=(first_day, today),
                **{f"{side}__lot__material__in": materials},
            )
            .order_by()
            .values_list(f"{side}__lot__material", "day")
            .annotate(Sum("quantity"))
        )
        for material, day, quantity in rows:
            week = (today - day).days // DAYS_PER_WEEK
            moved[material][week] = moved[material].get(week, 0) + sign * quantity
    for one in outlooks:
        held = one.good + one.unusable
        points = [(today, held)]
        for week in range(TO_DATE_WEEKS):
            held -= moved[one.material.pk].get(week, 0)
            points.append((today - timedelta(days=(week + 1) * DAYS_PER_WEEK), max(held, 0)))
        one.to_date = tuple(reversed(points))
