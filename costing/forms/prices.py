"""The form for what a metal costs on a day."""

from typing import Any

from django import forms
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from costing.models import MetalPrice
from inventory.models import Alloy
from inventory.queries.records import every, find_twin, in_use
from studio.kit.fields import PastDayField, PriceField
from studio.kit.forms import StudioModelForm

TWICE = "This metal has a price on this day already."


class MetalPriceForm(StudioModelForm):
    """One price for an alloy and a day; a second one is led to the first."""

    alloy = forms.ModelChoiceField(every(Alloy), label="Metal", empty_label="choose")
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
                self.add_error("day", say_twice(other))
        return cleaned

    def save(self, commit: bool = True) -> Any:
        self.instance.price_micro, self.instance.per_unit = self.cleaned_data["price"]
        return super().save(commit)


def say_twice(other: MetalPrice) -> SafeString:
    """Where to change the price that stands there already."""
    address = reverse("costing:price-edit", args=[other.pk])
    return format_html('{} <a href="{}">Change that price</a>, or write another day.', TWICE, address)
