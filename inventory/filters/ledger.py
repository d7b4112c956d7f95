"""The filter above the ledger."""

import django_filters
from django.db.models import QuerySet

from inventory.models import Entry
from inventory.queries.ledger import stands
from studio.kit.fields import CountField
from studio.kit.listing import DayFilter, ListFilter


class CountFilter(django_filters.Filter):
    field_class = CountField


class EntryFilter(ListFilter):
    kind = django_filters.ChoiceFilter(label="What", choices=Entry.Kind.choices, empty_label="everything")
    from_day = DayFilter(label="From", field_name="day", lookup_expr="gte")
    to_day = DayFilter(label="Up to", field_name="day", lookup_expr="lte")
    cast = CountFilter(label="Cast number", field_name="cast__number")
    standing = django_filters.ChoiceFilter(
        label="Reversed ones",
        choices=[("without", "left out"), ("only", "only those")],
        empty_label="shown too",
        method="choose_standing",
    )

    def choose_standing(self, entries: QuerySet[Entry], name: str, value: str) -> QuerySet[Entry]:
        if value == "without":
            return entries.filter(stands())
        return entries.exclude(stands())
