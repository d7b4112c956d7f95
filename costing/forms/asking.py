"""What if a piece were sold another way: the studio's rules stand in the form and may be changed for a look."""

import re
from datetime import date
from typing import Any

from django import forms

from costing.core.metal_price import DatedPrice, requote
from costing.core.price import PriceRule, print_rule_value
from costing.core.what_if import Basis, WhatIf
from costing.models import Policy
from costing.queries.policy import make_rule
from studio.kit.fields import MoneyField, NumberField, PercentField, PriceField
from studio.kit.forms import StudioForm
from studio.kit.numerals import TEXT_MAX, Unreadable, read_number, refuse_below_zero, tidy
from studio.kit.printing import SPACE, print_money, print_percent

HUNDREDTHS = 100
MARGIN_WHOLE = 100 * HUNDREDTHS
MULTIPLE_MAX = 1_000
_TIMES = re.compile(r" ?(?:x|times?)$")
_PER_CENT = re.compile(r" ?(?:%|per ?cent)$")
MARGIN_EXAMPLE = "Write a margin such as 60 %."
MULTIPLE_EXAMPLE = "Write a multiple such as 2.5 times."


class RuleValueField(forms.CharField):
    """Text that is read together with the choice of method."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            max_length=TEXT_MAX,
            help_text="A multiple such as 2.5 times, or a margin such as 60 %.",
            error_messages={
                "required": "Write how much: a multiple such as 2.5 times, or a margin such as 60 %."
            },
            **kwargs,
        )

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {**super().widget_attrs(widget), "class": "number", "autocomplete": "off"}


def read_rule_value(text: str, method: str) -> int:
    """Hundredths of a per cent for "margin", hundredths of the cost for "multiple". Raises Unreadable."""
    is_margin = method == "margin"
    plain = tidy(text)
    refuse_below_zero(plain)
    if is_margin and _TIMES.search(plain):
        raise Unreadable(f"This is a multiple. {MARGIN_EXAMPLE[:-1]}, or choose the multiple above.")
    if not is_margin and _PER_CENT.search(plain):
        raise Unreadable(f"This is a margin. {MULTIPLE_EXAMPLE[:-1]}, or choose the margin above.")
    number = read_number((_PER_CENT if is_margin else _TIMES).sub("", plain))
    if number is None:
        raise Unreadable(f"This cannot be read. {MARGIN_EXAMPLE if is_margin else MULTIPLE_EXAMPLE}")
    exact = number * HUNDREDTHS
    if exact.denominator != 1:
        raise Unreadable("Write at most 2 decimals.")
    _check_value(int(exact), is_margin)
    return int(exact)


def settle_rule_value(form: forms.BaseForm, way: str, name: str) -> None:
    """Read a way's value by the method beside it: whether 60 is a margin or a multiple hangs on that choice."""
    method = form.cleaned_data.get(f"{way}_method")
    typed = form.cleaned_data.pop(name, None)
    if not method or typed is None:
        return
    try:
        form.cleaned_data[name] = read_rule_value(typed, method)
    except Unreadable as refusal:
        form.add_error(name, str(refusal))


def _check_value(hundredths: int, is_margin: bool) -> None:
    if is_margin and hundredths >= MARGIN_WHOLE:
        raise Unreadable(
            "A margin is a share of the price, and the cost must fit into it too. Write less than 100 %, "
            "or choose the multiple above."
        )
    if not is_margin and not 0 < hundredths <= MULTIPLE_MAX * HUNDREDTHS:
        raise Unreadable(f"Write more than 0 and at most {MULTIPLE_MAX:,} times.")


def retype_rule_value(hundredths: int, method: str) -> str:
    """Text for the field, which reads back to the same."""
    return print_rule_value(hundredths, method).replace(",", "").replace(SPACE, " ")


WAYS = (("wholesale", "Wholesale"), ("retail", "Retail"))
FEES_MAX_PCT100 = 9_900
PIECES_MAX = 1_000
OTHERWISE = ("metal", "hourly_rate", "failures", "pieces")


class AskingForm(StudioForm):
    """Sent by GET: it is kept nowhere and changes no rule."""

    enter_goes_on = False
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
    metal = PriceField(label="Metal", required=False, minimum=1)
    hourly_rate = MoneyField(label="An hour at the bench", required=False)
    failures = PercentField(label="Castings that fail", required=False, maximum=FEES_MAX_PCT100)
    pieces = NumberField("Pieces in the flask", 1, PIECES_MAX, required=False)

    def __init__(self, data: Any, policy: Policy, basis: Basis | None = None, metal: str = "") -> None:
        # Text as it is typed, so that a form never sent prices by the rules that are in force.
        usual = {"fees": "0"}
        for way, _ in WAYS:
            method, value = getattr(policy, f"{way}_method"), getattr(policy, f"{way}_hundredths")
            usual |= {f"{way}_method": method, way: retype_rule_value(value, method)}
        usual |= dict.fromkeys(OTHERWISE, "")
        self.policy, self.basis = policy, basis
        self.is_changed = any(name in data for name in usual)
        super().__init__({name: data.get(name, text) for name, text in usual.items()})
        if basis is not None:
            self._tell_now(basis, metal)

    def _tell_now(self, basis: Basis, metal: str) -> None:
        """Beside each figure what it is now; a customer's metal has no price."""
        if basis.price is None:
            self.fields["metal"].help_text = f"What {metal} costs, such as 0.98 per g."
        else:
            quoted = basis.price.quoted
            field: Any = self.fields["metal"]
            field.kind = f"price-{quoted.per_unit}"
            field.label = f"Pure {basis.price.metal}" if basis.price.metal else metal
            field.help_text = f"Now {quoted.words}."
        now = {
            "hourly_rate": print_money(basis.hourly_micro),
            "failures": print_percent(basis.failed_pct100),
            "pieces": f"{basis.pieces}",
        }
        for name, words in now.items():
            self.fields[name].help_text = f"Now {words}."
        self.fields["failures"].help_text += " It counts where a price rule counts failures."

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for way, _ in WAYS:
            settle_rule_value(self, way, way)
        return cleaned

    def what_if(self, today: date) -> WhatIf:
        """What is otherwise than it is, of a valid form."""
        cleaned = self.cleaned_data
        price = None
        if cleaned["metal"]:
            price_micro, unit = cleaned["metal"]
            now = self.basis.price if self.basis else None
            price = requote(now, DatedPrice(price_micro, unit, today))
        return WhatIf(
            price=price,
            hourly_micro=cleaned["hourly_rate"],
            failed_pct100=cleaned["failures"],
            pieces=cleaned["pieces"],
        )

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
