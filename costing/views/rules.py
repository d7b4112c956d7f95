"""The cost rules, and what metal costs by day: listed, written down, and changed."""

from typing import Any

import django_filters
from django.utils import timezone

from costing.forms.rules import PRICE_TWICE, RULES_TWICE, MetalPriceForm, PolicyForm
from costing.models import MetalPrice, Policy
from costing.queries.metal_price import metal_prices
from costing.queries.policy import (
    count_casts_under,
    newest_policy,
    oldest_rules_day,
    policies_with_end,
)
from costing.tables.rules import MetalPriceTable, PolicyTable
from inventory.forms.sheet import Sheet
from inventory.models import Alloy
from inventory.queries.setup import every
from inventory.views.records import RecordPages
from studio.kit.listing import DayFilter, ListFilter
from studio.kit.printing import SPACE, print_date


class Policies(RecordPages):
    """One set of rules begins on a day."""

    app, name, folder = "costing", "policy", "setup/cost-rules/"
    model, form_class, table_class = Policy, PolicyForm, PolicyTable
    title = "Cost rules"
    lead = (
        "How grams and minutes become money. Each cast is costed by the rules of its own day; "
        "what was cast before the first rules is costed by those."
    )
    filterset_class = None
    press = ("Write down new rules", "costing:policy-new")
    new_title = "New cost rules"
    record_template = "costing/rules_edit.html"
    taken = ("from_day", f"{RULES_TWICE} Look at it in the list, or write another day.")

    def get_queryset(self) -> Any:
        return policies_with_end()

    def make_sheet(self, data: Any, record: Policy | None) -> Sheet:
        if record is None:
            newest = newest_policy()
            self.is_first = newest is None
            record = newest or Policy()
            # The newest rules as a row of its own, so that only what changed must be typed.
            record.pk = None
            record._state.adding = True
            record.from_day = timezone.localdate()
        return Sheet(PolicyForm(data, instance=record))

    def describe(self, record: Policy) -> str:
        return f"Cost rules from {print_date(record.from_day).replace(SPACE, ' ')}"

    def describe_saved(self, record: Policy) -> str:
        return f"Saved: c{self.describe(record)[1:]}."

    def read_more(self, record: Policy | None) -> dict[str, Any]:
        oldest_day = oldest_rules_day()
        if record is None:
            return {"is_first": self.is_first, "oldest_day": oldest_day}
        cast_count, last_day = count_casts_under(record)
        more = {"cast_count": cast_count, "last_day": last_day, "first_day": record.from_day}
        return more | {"is_oldest": record.from_day == oldest_day}


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
    ways = (
        ("Prices of pure metal", "costing:fine-price-list"),
        ("What falls under its floor", "costing:asked-under"),
    )
    new_title = "A new metal price"
    record_template = "costing/price_edit.html"
    taken = ("day", f"{PRICE_TWICE} Look at it in the list, or write another day.")

    def get_queryset(self) -> Any:
        return metal_prices()

    def make_sheet(self, data: Any, record: MetalPrice | None) -> Sheet:
        initial = {} if record else {"day": timezone.localdate()}
        return Sheet(MetalPriceForm(data, instance=record, initial=initial))

    def describe(self, record: MetalPrice) -> str:
        return f"{record.alloy} on {print_date(record.day).replace(SPACE, ' ')}"

    def describe_saved(self, record: MetalPrice) -> str:
        return f"Saved: {self.describe(record)}."
