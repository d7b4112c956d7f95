"""What metal costs: prices by alloy and day, listed, written down, and changed."""

from typing import Any

import django_filters
from django.utils import timezone

from costing.forms.prices import TWICE, MetalPriceForm
from costing.models import MetalPrice
from costing.queries.setup import metal_prices
from costing.tables.rules import MetalPriceTable
from inventory.forms.sheet import Sheet
from inventory.models import Alloy
from inventory.queries.records import every
from inventory.views.records import RecordPages
from studio.kit.listing import DayFilter, ListFilter
from studio.kit.printing import SPACE, print_date


class MetalPriceFilter(ListFilter):
    alloy = django_filters.ModelChoiceFilter(label="Metal", queryset=every(Alloy), empty_label="all")
    since = DayFilter(field_name="day", lookup_expr="gte", label="From")
    until = DayFilter(field_name="day", lookup_expr="lte", label="Up to")


class MetalPrices(RecordPages):
    """One price of each metal a day."""

    app, name, folder = "costing", "price", "setup/metal-prices/"
    model, form_class, table_class = MetalPrice, MetalPriceForm, MetalPriceTable
    title = "Metal prices"
    lead = "What metal could be bought for. The newest price of each tells what a piece would cost to make again."
    filterset_class = MetalPriceFilter
    press = ("Write down a price", "costing:price-new")
    new_title = "A new metal price"
    record_template = "costing/price_edit.html"
    taken = ("day", f"{TWICE} Look at it in the list, or write another day.")

    def get_queryset(self) -> Any:
        return metal_prices()

    def make_sheet(self, data: Any, record: MetalPrice | None) -> Sheet:
        initial = {} if record else {"day": timezone.localdate()}
        return Sheet(MetalPriceForm(data, instance=record, initial=initial))

    def describe(self, record: MetalPrice) -> str:
        return f"{record.alloy} on {print_date(record.day).replace(SPACE, ' ')}"

    def describe_saved(self, record: MetalPrice) -> str:
        return f"Saved: {self.describe(record)}."
