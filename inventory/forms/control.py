"""Which casts set the limits of what is usually lost from now on, and why."""

from typing import Any

from django import forms

from inventory.queries.control import last_numbers
from studio.kit.fields import NUMBER_MAX, LineField
from studio.kit.forms import OnceMixin, StudioForm

REASON_MAX = 200


def _number(label: str) -> forms.IntegerField:
    return forms.IntegerField(label=label, min_value=1, max_value=NUMBER_MAX)


class LimitsForm(OnceMixin, StudioForm):
    """The newest casts of the family stand in it at first."""

    reason = LineField(
        label="Why",
        max_length=REASON_MAX,
        help_text="What has changed, such as a new crucible or another torch.",
    )
    first = _number("From cast")
    last = _number("Up to cast")

    def __init__(self, metal: str, data: Any = None) -> None:
        numbers = last_numbers(metal)
        super().__init__(data, initial=dict(zip(("first", "last"), numbers, strict=True)) if numbers else {})

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if "first" in cleaned and "last" in cleaned and cleaned["first"] > cleaned["last"]:
            self.add_error("first", "This is after the last cast. Write an earlier number.")
        return cleaned
