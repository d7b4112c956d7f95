"""Tables of pure metal, premiums, price rules, channels and terms."""

from django_tables2 import A

from costing.core.price import compute_price_per_g, print_rule_value
from costing.models import FinePrice, NamedRule
from studio.kit import printing
from studio.kit.columns import DayColumn, MoneyColumn, PercentColumn, TextColumn, WordsColumn, WorkedColumn
from studio.kit.tables import BaseTable


def _per_gram(row: FinePrice, table: object) -> int:
    return compute_price_per_g(row.price_micro, row.per_unit)


class FinePriceTable(BaseTable):
    caption = "Prices of pure metal"

    day = DayColumn(linkify=("costing:fine-price-edit", [A("pk")]))
    metal = TextColumn("Metal")
    price_micro = MoneyColumn("Price", orderable=False)
    per_unit = TextColumn("Price per", visible=False)
    a_gram = WorkedColumn("A gram", _per_gram, kind="money", accessor="pk", orderable=False, wide=True)

    class Meta:
        empty_text = "No price yet. With one, alloys of that metal have a price to buy again by."

    def render_price_micro(self, record: FinePrice) -> str:
        return f"{printing.print_exact_money(record.price_micro)} per{printing.SPACE}{record.per_unit}"


class PremiumTable(BaseTable):
    caption = "What makers ask on top"

    alloy = TextColumn("Alloy", linkify=("costing:premium-edit", [A("pk")]))
    share_pct100 = PercentColumn("Of the pure metal")
    micro_per_kg = MoneyColumn("For a kilogram")

    class Meta:
        empty_text = "None yet. Without one, an alloy costs what its pure metal does."


def word_named_rule(rule: NamedRule) -> str:
    """ "margin 60 %", "2.5 times", or both numbers by parts"""
    if rule.method == NamedRule.Method.PARTS:
        materials, time = (
            print_rule_value(one, "multiple") for one in (rule.value_hundredths, rule.time_hundredths)
        )
        return f"materials {materials}, time {time}"
    value = print_rule_value(rule.value_hundredths, rule.method)
    return f"margin {value}" if rule.method == NamedRule.Method.MARGIN else value


class NamedRuleTable(BaseTable):
    caption = "Price rules"

    name = TextColumn("Rule", linkify=("costing:rule-edit", [A("pk")]))
    how = WordsColumn("What should be left", word_named_rule)
    least_per_hour_micro = MoneyColumn("At least an hour", wide=True)
    metal = TextColumn("Metal at", wide=True)
    step_micro = MoneyColumn("Step", wide=True)

    class Meta:
        empty_text = "None yet. Wholesale and retail are in the cost rules; here you name others."


class ChannelTable(BaseTable):
    caption = "Channels"

    name = TextColumn("Channel", linkify=("costing:channel-edit", [A("pk")]))
    commission_pct100 = PercentColumn("They keep")
    card_pct100 = PercentColumn("Card", wide=True)
    card_micro = MoneyColumn("Each sale", wide=True)
    day_micro = MoneyColumn("A day", wide=True)
    shipping_micro = MoneyColumn("Shipping", wide=True)
    tax = TextColumn("Tax", wide=True)
    rule = TextColumn("Price rule", default="Retail")

    class Meta:
        empty_text = (
            "None yet. Say what a market, a gallery or a card keeps, and prices are worked out for each."
        )


class TermsTable(BaseTable):
    caption = "Casting for others"

    name = TextColumn("Terms", linkify=("costing:terms-edit", [A("pk")]))
    gram_micro_per_kg = MoneyColumn("A kilogram cast", wide=True)
    flask_micro = MoneyColumn("A flask")
    mould_micro = MoneyColumn("A mould", wide=True)
    metal_pct100 = PercentColumn("On metal", wide=True)

    class Meta:
        empty_text = "None yet. With some, a customer's cast tells what the work costs them."
