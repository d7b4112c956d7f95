"""The filter above the list of firings."""

import django_filters

from inventory.models import Equipment
from inventory.queries.records import every
from studio.kit.listing import DayFilter, ListFilter


class FiringFilter(ListFilter):
    kiln = django_filters.ModelChoiceFilter(
        label="Kiln",
        queryset=every(Equipment).filter(kind=Equipment.Kind.KILN),
        empty_label="every kiln",
    )
    from_day = DayFilter(label="From", field_name="day", lookup_expr="gte")
    to_day = DayFilter(label="Up to", field_name="day", lookup_expr="lte")
