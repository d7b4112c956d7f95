"""The forms for the cost rules, every figure that turns grams and minutes into money, and for what a metal costs."""

from collections.abc import Iterator
from datetime import date
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from costing.core.price import compute_price_per_kg, word_price_per_kg
from costing.models import MetalPrice, Policy
from inventory.models import Alloy
from inventory.queries.setup import every, find_twin, in_use
from studio.kit.fields import AheadDayField, MoneyField, PastDayField, PercentField, PriceField
from studio.kit.forms import StudioModelForm
from studio.kit.printing import SPACE, print_date
from studio.kit.units import MICRO_PER_UNIT

from .asking import RuleValueField, retype_rule_value, settle_rule_value

LOSS_MAX_PCT100 = 5_000
STEP_MAX_MICRO = 100_000 * MICRO_PER_UNIT
RULES_TWICE = "There are rules from this day already."
PRICE_TWICE = "This metal has a price on this day already."

SECTIONS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("", "", ("from_day",)),
    (
        "Time",
        "Bench minutes are written down with a cast or a piece; these rates turn them into money.",
        ("hourly_rate_micro", "overhead_per_hour_micro"),
    ),
    (
        "Metal lost, and metal that came back",
        "",
        ("normal_loss_pct100", "reclaim_resale"),
    ),
    (
        "Energy and small things",
        "",
        ("energy_micro_per_kwh", "consumables_per_cast_micro", "consumables_per_piece_micro"),
    ),
    (
        "How the pieces of a cast share",
        "A piece carries its own metal. What the whole cast used is shared in one of three ways: a 12 g ring takes "
        "three times the share of a 4 g stud by grams, and the same share when each piece takes the same.",
        (
            *("loss_basis", "powder_basis", "pattern_basis", "energy_basis"),
            *("wear_basis", "consumables_basis", "time_basis"),
        ),
    ),
    (
        "Prices to ask",
        "A multiple counts from the cost: 2.5 times a cost of 40 is 100. A margin counts from the price: of 100 at a "
        "margin of 60 %, 60 stay with you and 40 are the cost.",
        ("wholesale_method", "wholesale_hundredths", "retail_method", "retail_hundredths"),
    ),
    ("Tax and rounding", "", ("tax_pct100", "price_step_micro", "price_rounding")),
)


class RuleDayField(AheadDayField):
    """A day from which rules hold: up to a year ahead, so that next year's rates can be written down now."""

    def too_late(self, latest: date) -> str:
        return f"That is more than a year ahead. Write a day up to {print_date(latest).replace(SPACE, ' ')}."


class PolicyForm(StudioModelForm):
    from_day = RuleDayField(
        label="In force from",
        help_text="Casts from this day on are costed by these rules, until newer ones begin. "
        "Your oldest rules cost what was cast before them too.",
    )
    normal_loss_pct100 = PercentField(
        label="Normal loss, of the charge",
        maximum=LOSS_MAX_PCT100,
        help_text="What every cast loses, such as 1 %. The pieces carry it; what is lost beyond it stands apart.",
    )
    reclaim_resale = PriceField(
        label="Value buttons and sprues at what they would sell for",
        required=False,
        minimum=1,
        help_text="Such as 0.75 per g or 750 per kg. The pieces then carry the difference. "
        "Left empty, metal that came back keeps what it cost.",
    )
    hourly_rate_micro = MoneyField(
        label="An hour at the bench", help_text="What an hour of work costs the studio, such as 22.00."
    )
    overhead_per_hour_micro = MoneyField(
        label="Overhead on each hour",
        help_text="Rent, insurance and the like, shared over the hours worked, such as 6.50. Write 0 for none.",
    )
    energy_micro_per_kwh = MoneyField(
        label="A kilowatt-hour", help_text="From your energy bill, such as 0.27."
    )
    consumables_per_cast_micro = MoneyField(
        label="Small things for each cast",
        help_text="What is not counted one by one: flux, sprue wax, gloves. Such as 1.40. Write 0 for none.",
    )
    consumables_per_piece_micro = MoneyField(
        label="Small things for each piece",
        help_text="Abrasive paper, polish, a bag. Such as 0.35. Write 0 for none.",
    )
    wholesale_hundredths = RuleValueField(label="Wholesale: how much")
    retail_hundredths = RuleValueField(label="Retail: how much")
    tax_pct100 = PercentField(
        label="Tax on the price",
        help_text="Added to wholesale and retail prices alike, such as 20 %. Write 0 when you charge none.",
    )
    price_step_micro = MoneyField(
        label="Round prices to a step of",
        minimum=1,
        maximum=STEP_MAX_MICRO,
        help_text="Prices end on it, tax and all: 1.00 for whole units, 0.01 for no rounding that shows.",
    )

    class Meta:
        model = Policy
        fields = [
            *("from_day", "normal_loss_pct100", "hourly_rate_micro", "overhead_per_hour_micro"),
            *("energy_micro_per_kwh", "consumables_per_cast_micro", "consumables_per_piece_micro"),
            *("loss_basis", "powder_basis", "pattern_basis", "energy_basis"),
            *("wear_basis", "consumables_basis", "time_basis"),
            *("wholesale_method", "wholesale_hundredths", "retail_method", "retail_hundredths"),
            *("tax_pct100", "price_step_micro", "price_rounding"),
        ]
        labels = {
            "loss_basis": "Metal lost",
            "powder_basis": "Investment powder",
            "pattern_basis": "Pattern material",
            "energy_basis": "Kiln energy",
            "wear_basis": "Wear of the equipment",
            "consumables_basis": "Small things, and other stock used",
            "time_basis": "Bench time on the whole cast, and its overhead",
            "wholesale_method": "Wholesale price by",
            "retail_method": "Retail price by",
            "price_rounding": "Which way to round",
        }
        help_texts = {
            "loss_basis": "By grams is usual: a heavier piece had more metal to lose.",
            "powder_basis": "By volume is usual: a bulky pattern takes more room in the flask. It counts the patterns' "
            "weights, so weigh them.",
            "pattern_basis": "Wax or resin. By volume is usual, from the patterns' weights.",
            "energy_basis": "The flask's share of a firing.",
            "wear_basis": "Kiln, flask, crucible, machine and pump.",
            "consumables_basis": "What was used for the cast and is not metal, powder or pattern.",
            "time_basis": "Time on one piece stays with that piece; this is the time on all of them.",
            "price_rounding": "Up: at a step of 1.00, 41.20 becomes 42.00. To the nearest: it becomes 41.00.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rules = self.instance
        if rules.reclaim_resale_micro_per_kg is not None:
            self.initial["reclaim_resale"] = word_price_per_kg(rules.reclaim_resale_micro_per_kg)
        for way in ("wholesale", "retail"):
            method, value = getattr(rules, f"{way}_method"), getattr(rules, f"{way}_hundredths")
            self.initial[f"{way}_hundredths"] = retype_rule_value(value, method)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for way in ("wholesale", "retail"):
            settle_rule_value(self, way, f"{way}_hundredths")
        day = cleaned.get("from_day")
        other = find_twin(self.instance, from_day=day) if day else None
        if other:
            self.add_error("from_day", say_twice(RULES_TWICE, other, "policy", "those rules"))
        return cleaned

    def save(self, commit: bool = True) -> Any:
        resale = self.cleaned_data["reclaim_resale"]
        self.instance.reclaim_resale_micro_per_kg = compute_price_per_kg(*resale) if resale else None
        return super().save(commit)

    def sections(self) -> Iterator[tuple[str, str, list[BoundField]]]:
        """(heading, what it is about, its fields) in the order of the page."""
        for heading, lead, names in SECTIONS:
            yield heading, lead, [self[name] for name in names]


class MetalPriceForm(StudioModelForm):
    """One price for an alloy and a day; a second one is led to the first."""

    alloy = forms.ModelChoiceField(every(Alloy), label="Metal", empty_label="Choose")
    day = PastDayField(label="Day", help_text="The day on which it could be bought for this.")
    price = PriceField(
        label="Price",
        minimum=1,
        help_text="As you were told it, such as 0.98 per g, 30.50 per ozt or 980 per kg. A bare number is per gram.",
    )

    class Meta:
        model = MetalPrice
        fields = ["alloy", "day"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # An alloy that was put away since still has its own old prices.
        alloys: Any = self.fields["alloy"]
        alloys.queryset = in_use(Alloy, self.instance.alloy_id)
        if self.instance.pk:
            self.initial["price"] = (self.instance.price_micro, self.instance.per_unit)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("alloy") and cleaned.get("day"):
            other = find_twin(self.instance, alloy=cleaned["alloy"], day=cleaned["day"])
            if other:
                self.add_error("day", say_twice(PRICE_TWICE, other, "price", "that price"))
        return cleaned

    def save(self, commit: bool = True) -> Any:
        self.instance.price_micro, self.instance.per_unit = self.cleaned_data["price"]
        return super().save(commit)


def say_twice(sentence: str, other: Policy | MetalPrice, name: str, which: str) -> SafeString:
    """What stands on that day already, and where to change it."""
    address = reverse(f"costing:{name}-edit", args=[other.pk])
    return format_html('{} <a href="{}">Change {}</a>, or write another day.', sentence, address, which)
