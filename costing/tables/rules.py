"""Tables of the cost rules and of the metal prices."""

from datetime import date, timedelta
from decimal import Decimal

from django_tables2 import A

from costing.core.price import compute_price_per_g, print_rule_value
from costing.models import MetalPrice, Policy
from studio.kit import printing
from studio.kit.columns import DayColumn, FigureColumn, MoneyColumn, PercentColumn, TextColumn, WordsColumn
from studio.kit.tables import BaseTable


class PolicyTable(BaseTable):
    """Rows come from `policies_with_end`."""

    caption = "Cost rules"
    first_step = ("Write down your cost rules", "costing:policy-new")

    from_day = DayColumn("From", linkify=("costing:policy-edit", [A("pk")]))
    until = DayColumn("Until", empty_values=(), orderable=False, accessor="next_day", wide=True)
    hourly_rate_micro = MoneyColumn("An hour")
    overhead_per_hour_micro = MoneyColumn("Overhead", wide=True)
    normal_loss_pct100 = PercentColumn("Normal loss", wide=True)
    wholesale_hundredths = WordsColumn(
        "Wholesale", lambda rules: word_rule(rules.wholesale_hundredths, rules.wholesale_method), wide=True
    )
    retail_hundredths = WordsColumn(
        "Retail", lambda rules: word_rule(rules.retail_hundredths, rules.retail_method)
    )
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
    price_micro = FigureColumn("Price", orderable=False)
    per_unit = TextColumn("Price per", visible=False)
    a_gram = FigureColumn("A gram", empty_values=(), orderable=False, accessor="pk", wide=True)

    class Meta:
        empty_text = (
            "No price yet. With one, a piece also shows what it would cost if its metal were bought today."
        )

    def render_price_micro(self, record: MetalPrice) -> str:
        return f"{printing.print_exact_money(record.price_micro)} per{printing.SPACE}{record.per_unit}"

    def value_price_micro(self, record: MetalPrice) -> Decimal:
        return Decimal(record.price_micro).scaleb(-6)

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
