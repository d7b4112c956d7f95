"""What if a piece were sold another way: the studio's own rules stand in the form, and may be changed for a look."""

from typing import Any

from django import forms

from costing.core.price import PriceRule
from costing.models import Policy
from costing.queries.policy import make_rule
from studio.kit.fields import PercentField
from studio.kit.forms import StudioForm
from studio.kit.numerals import Unreadable

from .rule_value import RuleValueField, read_rule_value, retype_rule_value

WAYS = (("wholesale", "Wholesale"), ("retail", "Retail"))
FEES_MAX_PCT100 = 9_900


class AskingForm(StudioForm):
    """Sent by GET: it is kept nowhere and changes no rule."""

    wholesale_method = forms.ChoiceField(choices=Policy.Method.choices, label="Wholesale price by")
    wholesale = RuleValueField(label="Wholesale: how much")
    retail_method = forms.ChoiceField(choices=Policy.Method.choices, label="Retail price by")
    retail = RuleValueField(label="Retail: how much")
    fees = PercentField(
        label="Fees on the retail price",
        required=False,
        maximum=FEES_MAX_PCT100,
        help_text="What a market, a website or a gallery keeps of it, before tax, such as 50 %.",
    )

    def __init__(self, data: Any, policy: Policy) -> None:
        # Text as it is typed, so that a form never sent prices by the rules that are in force.
        usual = {"fees": "0"}
        for way, _ in WAYS:
            method, value = getattr(policy, f"{way}_method"), getattr(policy, f"{way}_hundredths")
            usual |= {f"{way}_method": method, way: retype_rule_value(value, method)}
        self.policy = policy
        self.is_changed = any(name in data for name in usual)
        super().__init__({name: data.get(name, text) for name, text in usual.items()})

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for way, _ in WAYS:
            method = cleaned.get(f"{way}_method")
            if not method or way not in cleaned:
                continue
            try:
                cleaned[way] = read_rule_value(cleaned[way], method)
            except Unreadable as refusal:
                self.add_error(way, str(refusal))
        return cleaned

    def rules(self) -> tuple[PriceRule, ...]:
        """The rules of a valid form."""
        cleaned = self.cleaned_data
        return tuple(
            make_rule(
                self.policy,
                label,
                cleaned[f"{way}_method"],
                cleaned[way],
                fees_pct100=(cleaned["fees"] or 0) if way == "retail" else 0,
            )
            for way, label in WAYS
        )
