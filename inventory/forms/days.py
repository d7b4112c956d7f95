"""Which casting day a run sheet is for."""

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.queries.days import latest_day, next_day, read_day
from studio.kit.reporting import ReportForm

NUMBER_MAX = 2_147_483_647


class RunSheetForm(ReportForm):
    """One casting day; the next when none is named, or else the latest. Cleans to its number."""

    casting_day = forms.IntegerField(
        label="Casting day",
        required=False,
        min_value=1,
        max_value=NUMBER_MAX,
        help_text="Its number. Left empty: the next casting day.",
    )

    def clean_casting_day(self) -> int:
        number = self.cleaned_data["casting_day"]
        if number is None:
            day = next_day(timezone.now()) or latest_day()
            if day is None:
                raise ValidationError("No casting day is planned yet. Plan a cast first.")
            number = day.pk
        sheet = read_day(number)
        if sheet is None:
            raise ValidationError(f"There is no casting day {number}.")
        if not sheet.flasks:
            raise ValidationError(f"No flask is planned for casting day {number} any more.")
        if sheet.timetable is None:
            raise ValidationError(
                f"{sheet.day.schedule} has no hours yet. Write down its climbs and holds first."
            )
        return int(number)
