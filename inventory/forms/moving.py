"""The button that moves a whole casting day to where it fits."""

from django import forms

from inventory.core.occupied import FARTHEST, QUARTER
from studio.kit.forms import OnceMixin, StudioForm

MOST_QUARTERS = FARTHEST // QUARTER
_STALE = "This page has been open too long. Look at the nearest time that is free again."


class MoveForm(OnceMixin, StudioForm):
    """By how many quarter hours, and as it was when the page was shown: the day's revision."""

    quarters = forms.IntegerField(
        min_value=-MOST_QUARTERS, max_value=MOST_QUARTERS, widget=forms.HiddenInput, localize=False
    )
    revision = forms.IntegerField(min_value=0, max_value=2**31 - 1, widget=forms.HiddenInput, localize=False)

    def clean(self) -> dict[str, object]:
        cleaned = super().clean() or {}
        # What the page itself wrote is never wrong but by its age: one sentence says what to do.
        if self.errors:
            self.errors.clear()
            self.add_error(None, _STALE)
        return cleaned
