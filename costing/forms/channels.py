"""The forms for the studio's own price rules, its channels, its terms for others, and how it looks at prices."""

from typing import Any

from django import forms

from costing.core.channel import Fees, check_fees
from costing.core.price import compute_price_per_kg, word_price_per_kg
from costing.models import CastingTerms, Channel, NamedRule, PricePractice
from costing.queries.policy import tax_of_today
from inventory.queries.setup import every, in_use
from studio.kit.fields import LineField, MoneyField, NumberField, PercentField, PriceField
from studio.kit.forms import StudioForm, StudioModelForm
from studio.kit.numerals import Unreadable

from .asking import RuleValueField, read_rule_value, retype_rule_value
from .rules import STEP_MAX_MICRO

SHARE_MAX_PCT100 = 9_999
SOLD_MAX = 10_000
MOULDS_MAX = 1_000
DAYS_MAX = 3_650


class _PrefilledForm(StudioModelForm):
    """A new record begins with what its model begins with."""

    def __init__(self, data: Any = None, instance: Any = None, **kwargs: Any) -> None:
        model: Any = self._meta.model
        super().__init__(data, instance=instance or model(), **kwargs)


class NamedRuleForm(_PrefilledForm):
    name = LineField(
        label="Name", max_length=60, help_text="As you call it, such as Market or Gallery floor."
    )
    value = RuleValueField(label="How much")
    time = RuleValueField(label="Time counts", required=False)
    added_micro = MoneyField(
        label="And on each piece", help_text="By parts only: a sum for overhead, such as 2.00."
    )
    least_per_hour_micro = MoneyField(
        label="At least for each hour at the bench",
        help_text="The price must leave this for every hour, such as 30.00. Write 0 for no such floor.",
    )
    counts_failures = forms.BooleanField(
        label="Castings that fail raise it, by the studio's own record", required=False
    )
    step_micro = MoneyField(
        label="Round prices to a step of",
        minimum=1,
        maximum=STEP_MAX_MICRO,
        help_text="Such as 1.00 or 0.05.",
    )

    class Meta:
        model = NamedRule
        fields = [
            *("name", "method", "added_micro", "least_per_hour_micro"),
            *("metal", "counts_failures", "step_micro", "rounding"),
        ]
        labels = {
            "method": "What should be left, by",
            "metal": "Metal counts at",
            "rounding": "Which way to round",
        }
        help_texts = {
            "method": "By parts: materials times the first number, time times the second, overhead, and a sum on each "
            "piece.",
        }

    field_order = ("name", "method", "value", "time", "added_micro", "least_per_hour_micro", "metal")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rule = self.instance
        self.fields["time"].help_text = "By parts only, such as 1.5 times."
        self.initial["value"] = retype_rule_value(rule.value_hundredths, rule.method)
        self.initial["time"] = retype_rule_value(rule.time_hundredths, "multiple")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        way = "margin" if cleaned.get("method") == NamedRule.Method.MARGIN else "multiple"
        for name, method in (("value", way), ("time", "multiple")):
            if cleaned.get(name):
                try:
                    cleaned[name] = read_rule_value(cleaned[name], method)
                except Unreadable as refusal:
                    self.add_error(name, str(refusal))
        if (
            cleaned.get("method") == NamedRule.Method.PARTS
            and not cleaned.get("time")
            and "time" not in self.errors
        ):
            self.add_error("time", "Write how many times the time counts, such as 1.5 times.")
        return cleaned

    def save(self, commit: bool = True) -> Any:
        self.instance.value_hundredths = self.cleaned_data["value"]
        self.instance.time_hundredths = self.cleaned_data["time"] or 100
        return super().save(commit)


class ChannelForm(_PrefilledForm):
    name = LineField(
        label="Name", max_length=60, help_text="Such as Own table, Saturday market or Gallery on the hill."
    )
    commission_pct100 = PercentField(
        label="They keep, of the price before tax",
        maximum=SHARE_MAX_PCT100,
        help_text="A gallery's commission or a market's share, such as 40 %. Write 0 for none.",
    )
    card_pct100 = PercentField(
        label="Card fee, of what is paid", maximum=SHARE_MAX_PCT100, help_text="Tax included, such as 1.75 %."
    )
    card_micro = MoneyField(label="And for each sale", help_text="Such as 0.20.")
    day_micro = MoneyField(
        label="Fee for a day", help_text="What the table costs, such as 45.00. Write 0 for none."
    )
    sold_a_day = NumberField(
        "Pieces sold on such a day", 1, SOLD_MAX, "As it usually goes: they share the day's fee.", initial=1
    )
    shipping_micro = MoneyField(
        label="Shipping that you pay",
        help_text="Postage and box of a sale, such as 4.20. Write 0 where buyers pay.",
    )

    class Meta:
        model = Channel
        fields = [
            *("name", "rule", "commission_pct100", "card_pct100", "card_micro"),
            *("day_micro", "sold_a_day", "shipping_micro", "tax"),
        ]
        labels = {"rule": "Price rule", "tax": "Tax"}
        help_texts = {
            "rule": "What should be left after all fees. Left empty, the retail rule of your cost rules.",
            "tax": "Whether the price on the tag has it in it. The rate is in your cost rules.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rules: Any = self.fields["rule"]
        rules.queryset = in_use(NamedRule, self.instance.rule_id)
        rules.empty_label = "Retail, of the cost rules"

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        shares = (cleaned.get("commission_pct100"), cleaned.get("card_pct100"))
        if None not in shares and cleaned.get("tax"):
            fees = Fees(
                label="",
                commission_pct100=cleaned["commission_pct100"],
                card_pct100=cleaned["card_pct100"],
                tax=cleaned["tax"],
                tax_pct100=tax_of_today(),
            )
            problem = check_fees(fees)
            if problem:
                self.add_error("commission_pct100", problem)
        return cleaned


class TermsForm(_PrefilledForm):
    name = LineField(label="Name", max_length=60, help_text="Such as For friends, or Trade.")
    per_gram = PriceField(label="For what is cast", help_text="Such as 1.20 per g.")
    flask_micro = MoneyField(label="For each flask", help_text="Such as 18.00. Write 0 for none.")
    mould_micro = MoneyField(
        label="For each mould",
        help_text="A rubber mould made for their design, such as 25.00. Write 0 for none.",
    )
    metal_pct100 = PercentField(
        label="On metal that they buy from you",
        help_text="On top of what it costs you to buy again, such as 10 %. Their own metal costs them nothing here.",
    )

    class Meta:
        model = CastingTerms
        fields = ["name", "flask_micro", "mould_micro", "metal_pct100"]

    field_order = ("name", "per_gram")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            self.initial["per_gram"] = word_price_per_kg(self.instance.gram_micro_per_kg)

    def save(self, commit: bool = True) -> Any:
        self.instance.gram_micro_per_kg = compute_price_per_kg(*self.cleaned_data["per_gram"])
        return super().save(commit)


class PracticeForm(StudioModelForm):
    old_price_days = NumberField(
        "A price of metal is old after, in days",
        1,
        DAYS_MAX,
        "Wherever an older one is used, it is said to be old.",
    )
    failed_days = NumberField(
        "Failures are counted over, in days",
        1,
        DAYS_MAX,
        "Castings that failed in this time raise prices whose rule says so.",
    )

    class Meta:
        model = PricePractice
        fields = ["old_price_days", "failed_days", "usual_channel", "floor_rule"]
        labels = {"usual_channel": "What is asked is asked at", "floor_rule": "The floor under what is asked"}
        help_texts = {
            "usual_channel": "Its fees are taken off to see what a price leaves. Left empty, your own table.",
            "floor_rule": "What must at least be left, by this rule. Left empty, what the piece costs with metal of "
            "today.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        practice: Any = self.instance
        fields: Any = self.fields
        fields["usual_channel"].queryset = in_use(Channel, practice.usual_channel_id)
        fields["usual_channel"].empty_label = "Own table, without fees"
        fields["floor_rule"].queryset = in_use(NamedRule, practice.floor_rule_id)
        fields["floor_rule"].empty_label = "What it costs with metal of today"


class WorkForm(StudioForm):
    """What a customer's cast is priced by. Sent by GET: it is kept nowhere."""

    enter_goes_on = False
    terms = forms.ModelChoiceField(every(CastingTerms), label="Terms", empty_label=None)
    moulds = NumberField("Moulds made", 0, MOULDS_MAX)
    metal = forms.ChoiceField(
        choices=[("own", "their own"), ("studio", "bought from the studio")], label="Metal"
    )

    def __init__(self, data: Any, first: CastingTerms) -> None:
        usual = {"terms": str(first.pk), "moulds": "0", "metal": "own"}
        super().__init__({name: data.get(name, text) for name, text in usual.items()})
        terms: Any = self.fields["terms"]
        terms.queryset = in_use(CastingTerms)
