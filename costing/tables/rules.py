"""Tables of the cost rules and of the metal prices."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django_tables2 import A

from costing.core.price import compute_price_per_g, print_rule_value
from costing.models import MetalPrice, Policy
from studio.kit import printing
from studio.kit.columns import DayColumn, FigureColumn, MoneyColumn, PercentColumn, TextColumn
from studio.kit.tables import BaseTable


class RuleColumn(FigureColumn):
    """How a price is made: a number, and behind it in files what the number is of."""

    css_class = ""
    kind = "ratio"

    def __init__(self, label: str, **kwargs: Any) -> None:
        self.name = label.casefold()
        super().__init__(label, accessor=f"{self.name}_hundredths", orderable=False, **kwargs)

    def name_taken(self, label: str, currency: str) -> list[str]:
        return [label, f"{label}: method"]

    def count_decimals(self) -> list[int | None]:
        return [None, None]

    def find_more(self, record: Policy) -> list[str]:
        return [getattr(record, f"get_{self.name}_method_display")()]

    def print_figure(self, value: int, record: Policy) -> str:
        return word_rule(value, getattr(record, f"{self.name}_method"))


class PolicyTable(BaseTable):
    """Rows come from `policies_with_end`."""

    caption = "Cost rules"
    first_step = ("Write down your cost rules", "costing:policy-new")

    from_day = DayColumn("From", linkify=("costing:policy-edit", [A("pk")]))
    until = DayColumn("Until", empty_values=(), orderable=False, accessor="next_day", wide=True)
    hourly_rate_micro = MoneyColumn("An hour")
    overhead_per_hour_micro = MoneyColumn("Overhead", wide=True)
    normal_loss_pct100 = PercentColumn("Normal loss", wide=True)
    wholesale = RuleColumn("Wholesale", wide=True)
    retail = RuleColumn("Retail")
    tax_pct100 = PercentColumn("Tax", wide=True)

    class Meta:
        empty_text = "No rules yet. Say what an hour costs, what a cast may lose, and how prices are made."

    def render_until(self, record: Policy) -> str:
        last = self.value_until(record)
        return printing.print_date(last) if last else "newer ones begin"

    def value_until(self, record: Policy) -> date | None:
        next_day = getattr(record, "next_day", None)
        return next_day - timedelta(days=1) if next_day else None


class MetalPriceTable(BaseTable):
    caption = "Metal prices"

    day = DayColumn(linkify=("costing:price-edit", [A("pk")]))
    alloy = TextColumn("Metal")
    price_micro = MoneyColumn("Price", orderable=False)
    per_unit = TextColumn("Price per", visible=False)
    a_gram = MoneyColumn("A gram", empty_values=(), orderable=False, accessor="pk", wide=True)

    class Meta:
        empty_text = (
            "No price yet. With one, a piece also shows what it would cost if its metal were bought today."
        )

    def render_price_micro(self, record: MetalPrice) -> str:
        return f"{printing.print_exact_money(record.price_micro)} per{printing.SPACE}{record.per_unit}"

    def render_a_gram(self, record: MetalPrice) -> str:
        return printing.print_decimal(
            compute_price_per_g(record.price_micro, record.per_unit), 6, most=6, least=4
        )

    def value_a_gram(self, record: MetalPrice) -> Decimal:
        return Decimal(compute_price_per_g(record.price_micro, record.per_unit)).scaleb(-6)


def word_rule(hundredths: int, method: str) -> str:
    """ "2.5 times the cost" or "margin 60 %" """
    value = print_rule_value(hundredths, method)
    return f"margin {value}" if method == Policy.Method.MARGIN else f"{value} the cost"
