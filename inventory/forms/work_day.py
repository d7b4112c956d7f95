"""The day on which something was done to stock: one that is long past is asked about."""

from datetime import timedelta
from typing import Any

from django.utils import timezone

from inventory.queries.ledger import latest_day
from studio.kit.fields import PastDayField
from studio.kit.printing import print_day

LONG_PAST = timedelta(days=60)


class WorkDayField(PastDayField):
    """A day up to today that is asked about when it is long past."""


def doubt_days(form: Any) -> dict[str, str]:
    """What is to be asked about the days of a form that was found right, by the name of the field.

    A day is long past two months before today and before the latest day in the book: who writes an old notebook in,
    from its first page to its last, is not asked at every line.
    """
    today, found = timezone.localdate(), {}
    for name, field in form.fields.items():
        day = form.cleaned_data.get(name) if isinstance(field, WorkDayField) else None
        if day is None or today - day <= LONG_PAST or day == form.get_initial_for_field(field, name):
            continue
        latest = latest_day()
        if latest is not None and latest - day > LONG_PAST:
            shown = print_day(day, with_year=True)
            found[name] = f"{shown} is {(today - day).days:,} days ago."
    return found
