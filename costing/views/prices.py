"""What metal costs: prices by alloy and day, listed, written down, and changed."""

from typing import Any

import django_filters
from django.utils import timezone

from costing.forms.prices import TWICE, MetalPriceForm
from costing.models import MetalPrice
from costing.queries.setup import metal_prices
from costing.tables.rules import MetalPriceTable
from inventory.models import Alloy
from inventory.views.records import RecordCreate, RecordUpdate
from studio.kit.listing import DayFilter, ListFilter, ListingView
from studio.kit.printing import SPACE, print_date

from .saving import DatedRecordMixin


class MetalPriceFilter(ListFilter):
    alloy = django_filters.ModelChoiceFilter(label="Metal", queryset=Alloy.objects.all(), empty_label="all")
    since = DayFilter(field_name="day", lookup_expr="gte", label="From")
    until = DayFilter(field_name="day", lookup_expr="lte", label="Up to")


class MetalPriceList(ListingView):
    title = "Metal prices"
    lead = "What metal could be bought for. The newest price of each tells what a piece would cost to make again."
    table_class = MetalPriceTable
    filterset_class = MetalPriceFilter
    press = ("Write down a price", "costing:price-new")

    def get_queryset(self) -> Any:
        return metal_prices()


class _MetalPriceMixin(DatedRecordMixin):
    model = MetalPrice
    form_class = MetalPriceForm
    list_name = "costing:price-list"
    list_label = "Metal prices"
    template_name = "costing/price_edit.html"
    day_field = "day"
    taken = TWICE

    def word_record(self, record: MetalPrice) -> str:
        return f"{record.alloy} on {print_date(record.day).replace(SPACE, ' ')}"


class MetalPriceCreate(_MetalPriceMixin, RecordCreate):
    title = "A new metal price"

    def get_initial(self) -> dict[str, Any]:
        return {**super().get_initial(), "day": timezone.localdate()}


class MetalPriceUpdate(_MetalPriceMixin, RecordUpdate):
    def get_queryset(self) -> Any:
        return metal_prices()

    def get_object(self, queryset: Any = None) -> MetalPrice:
        price: MetalPrice = super().get_object(queryset)
        self.saved_name = self.word_record(price)
        return price
