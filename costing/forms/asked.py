"""What is asked for one piece, or for some or all of a list of them."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils import timezone

from studio.kit.fields import LineField, MoneyField, PastDayField
from studio.kit.forms import OnceMixin, StudioForm

REASON_MAX = 200
PRICE_MAX_MICRO = 10**13
ALL = "all"


class AskForm(OnceMixin, StudioForm):
    """One price."""

    price = MoneyField(
        label="Ask",
        minimum=10_000,
        maximum=PRICE_MAX_MICRO,
        help_text="As it stands on the tag, such as 120.00.",
    )
    day = PastDayField(label="From", initial=timezone.localdate)
    reason = LineField(label="Why", max_length=REASON_MAX, required=False, help_text="Such as metal went up.")


class AskListForm(OnceMixin, StudioForm):
    """A tick and a price for each row of a page; pressed for all, also for those that are on other pages."""

    day = PastDayField(label="From", initial=timezone.localdate)
    reason = LineField(label="Why", max_length=REASON_MAX, required=False, help_text="Such as metal went up.")

    def __init__(self, data: Any = None, suggested: Mapping[str, int | None] | None = None) -> None:
        super().__init__(data)
        self.keys = list(suggested or ())
        for key, price_micro in (suggested or {}).items():
            self.fields[f"take_{key}"] = forms.BooleanField(label="Take it", required=False)
            self.fields[f"price_{key}"] = MoneyField(
                label="New price",
                minimum=10_000,
                maximum=PRICE_MAX_MICRO,
                required=False,
                initial=price_micro,
            )

    @property
    def is_for_all(self) -> bool:
        return ALL in self.data

    @property
    def head(self) -> list[BoundField]:
        return [self["reason"], self["day"]]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        taken = [key for key in self.keys if cleaned.get(f"take_{key}")]
        if not taken and not self.is_for_all:
            self.add_error(None, "Tick at least one.")
        for key in taken:
            name = f"price_{key}"
            if cleaned.get(name) is None and name not in self.errors:
                self.add_error(name, "Write what is asked for it.")
        return cleaned

    def prices(self) -> dict[str, int]:
        """What to ask by the key of its row: of those ticked, or of all on the page that have a price."""
        return {
            key: price
            for key in self.keys
            if (price := self.cleaned_data.get(f"price_{key}")) is not None
            and (self.is_for_all or self.cleaned_data.get(f"take_{key}"))
        }
