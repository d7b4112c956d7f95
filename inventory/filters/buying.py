"""Filters above the list of deliveries."""

import django_filters

from inventory.models import Supplier
from inventory.queries.records import every
from studio.kit.listing import DayFilter, ListFilter


class DeliveryFilter(ListFilter):
    supplier = django_filters.ModelChoiceFilter(
        label="From", queryset=every(Supplier), empty_label="every supplier"
    )
    first = DayFilter(field_name="received_on", lookup_expr="gte", label="Came from")
    last = DayFilter(field_name="received_on", lookup_expr="lte", label="Up to")
    reference = django_filters.CharFilter(lookup_expr="icontains", label="Reference")
