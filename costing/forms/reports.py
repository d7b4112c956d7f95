"""What a person may ask of a report. Every field may stay empty: then it is settled here."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from costing.queries.costed import latest_closed_cast
from inventory.models import Alloy
from inventory.queries.casting_page import find_cast
from inventory.queries.setup import every
from studio.kit.fields import NUMBER_MAX, PastDayField
from studio.kit.printing import SPACE, print_date
from studio.kit.reporting import ReportForm


class CastForm(ReportForm):
    """One closed cast; the latest when none is named. Cleans to its number."""

    cast = forms.IntegerField(
        label="Cast number",
        required=False,
        min_value=1,
        max_value=NUMBER_MAX,
        help_text="Left empty: the latest that is closed.",
    )

    working = forms.BooleanField(
        label="Print the working too",
        required=False,
        help_text="As an appendix: how every figure came about.",
    )

    def clean_cast(self) -> int:
        number = self.cleaned_data["cast"]
        cast = latest_closed_cast() if number is None else find_cast(number)
        if cast is None and number is None:
            raise ValidationError("No cast has been closed yet. Its cost is known once its weights are in.")
        if cast is None:
            raise ValidationError(f"There is no cast {number}.")
        if not cast.is_closed:
            raise ValidationError(f"Cast {number} is still open. Its cost is known once its weights are in.")
        return int(cast.number)

    def settled(self) -> dict[str, str]:
        asked = {"cast": str(self.cleaned_data["cast"])}
        return asked | ({"working": "on"} if self.cleaned_data["working"] else {})


class PeriodForm(ReportForm):
    """A time, both days included; the last twelve months when nothing is said."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # "from" is a word of the language, so it cannot be an attribute of the class.
        days = {
            "from": PastDayField(label="From", required=False),
            "to": PastDayField(label="Up to", required=False),
        }
        self.fields = {**days, **self.fields}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.errors.keys() & {"from", "to"}:
            return cleaned
        last = cleaned.get("to") or timezone.localdate()
        first = cleaned.get("from") or a_year_before(last)
        if first > last:
            said = print_date(last).replace(SPACE, " ")
            self.add_error(
                "from",
                f"This is after the last day, {said}. Write an earlier day here, or a later one there.",
            )
            return cleaned
        return {**cleaned, "from": first, "to": last}


class MetalForm(PeriodForm):
    """A time, and one alloy or all of them."""

    alloy = forms.ModelChoiceField(
        every(Alloy),
        label="Metal",
        required=False,
        empty_label="all",
        to_field_name="name",
        error_messages={"invalid_choice": "There is no metal named %(value)s. Choose one of the list."},
    )


class DayForm(ReportForm):
    """One day; today when nothing is said."""

    day = PastDayField(label="At the end of", required=False)

    def clean_day(self) -> date:
        return self.cleaned_data["day"] or timezone.localdate()


def a_year_before(last: date) -> date:
    """The first day of the twelve months that end on a day."""
    following = date.fromordinal(last.toordinal() + 1)
    if (following.month, following.day) == (2, 29):
        return date(following.year - 1, 3, 1)
    return following.replace(year=following.year - 1)
