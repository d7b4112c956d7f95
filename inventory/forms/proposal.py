"""What is asked for the order that costs least: how far ahead, which materials, and an amount of one's own."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField

from inventory.core.reorder import DAYS_PER_WEEK
from inventory.queries.cheapest import WEEKS_USUAL
from inventory.queries.proposal import MOST_AT_ONCE, Known
from studio.kit.fields import NumberField, QuantityField
from studio.kit.forms import StudioForm
from studio.kit.printing import print_day
from studio.kit.reporting import ReportForm

WEEKS_MOST = 52
SHOWN_MOST = 40


def weeks_field(**more: Any) -> NumberField:
    return NumberField(
        "Weeks to order for",
        1,
        WEEKS_MOST,
        "From the day it comes until the next order need be placed.",
        initial=WEEKS_USUAL,
        **more,
    )


class ProposalForm(StudioForm):
    """`take-KEY` is ticked for what is to be ordered, `own-KEY` how much of it where that is not what follows.

    Opened without an answer, what is due in the time ahead is ticked, or at least what is due first.
    """

    marks_optional = False
    enter_goes_on = False

    weeks = weeks_field()

    def __init__(self, data: Any, known: Sequence[Known], today: date) -> None:
        self.known = list(known)[:SHOWN_MOST]
        super().__init__(data if data and "weeks" in data else None)
        until = today + timedelta(days=WEEKS_USUAL * DAYS_PER_WEEK)
        due = [one.material.pk for one in self.known if one.is_due(until)][:MOST_AT_ONCE]
        due = due or [one.material.pk for one in self.known[:1] if one.order_by]
        for one in self.known:
            pk, unit = one.material.pk, one.demand.unit
            self.fields[f"take-{pk}"] = forms.BooleanField(
                label=str(one.material), required=False, initial=pk in due, help_text=self._tell(one, today)
            )
            self.fields[f"own-{pk}"] = QuantityField(
                unit, label=f"So much of it instead: {one.material}", required=False, minimum=1
            )

    @staticmethod
    def _tell(one: Known, today: date) -> str:
        if one.order_by is None:
            return "Nobody knows yet what is used of it: write how much you want."
        if one.order_by <= today:
            return "To be ordered now."
        return f"To be ordered by {print_day(one.order_by, with_year=True)}."

    @property
    def asked_of(self) -> list[tuple[BoundField, BoundField]]:
        return [(self[f"take-{one.material.pk}"], self[f"own-{one.material.pk}"]) for one in self.known]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if sum(bool(cleaned.get(f"take-{one.material.pk}")) for one in self.known) > MOST_AT_ONCE:
            raise ValidationError(f"Tick at most {MOST_AT_ONCE} materials at once.")
        return cleaned

    def _says(self, name: str) -> Any:
        return (
            self.cleaned_data.get(name)
            if self.is_bound
            else self.get_initial_for_field(self.fields[name], name)
        )

    @property
    def weeks_asked(self) -> int:
        return self._says("weeks") or WEEKS_USUAL

    @property
    def taken(self) -> list[Known]:
        """What is ticked, or has an amount of one's own."""
        return [
            one
            for one in self.known
            if self._says(f"take-{one.material.pk}") or self._says(f"own-{one.material.pk}")
        ][:MOST_AT_ONCE]

    @property
    def own(self) -> dict[int, int]:
        found = {one.material.pk: self._says(f"own-{one.material.pk}") for one in self.known}
        return {pk: amount for pk, amount in found.items() if amount is not None}


class ToBuyForm(ReportForm):
    """What is due in the time ahead."""

    weeks = weeks_field(required=False)

    def clean_weeks(self) -> int:
        return self.cleaned_data["weeks"] or WEEKS_USUAL
