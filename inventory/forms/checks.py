"""A tick before the pour: which line, and whether it is taken back."""

from collections.abc import Iterable
from typing import Any

from django import forms

from studio.kit.forms import StudioForm


class TickForm(StudioForm):
    """A line can be ticked only if it is on the cast's list."""

    line = forms.ChoiceField(
        widget=forms.HiddenInput,
        error_messages=dict.fromkeys(("required", "invalid_choice"), "That line is no longer on the list."),
    )
    back = forms.BooleanField(required=False)

    def __init__(self, *args: Any, lines: Iterable[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["line"]
        field.choices = [(line, line) for line in lines]
