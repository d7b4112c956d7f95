"""Presses at the bench: what they may say."""

from collections.abc import Iterable
from typing import Any

from django import forms

from inventory.models import CastMoment
from studio.kit.forms import StudioForm


class PressForm(StudioForm):
    """A press on the clock: it was done now, or that was a mistake."""

    kind = forms.ChoiceField(
        choices=[(CastMoment.Kind.POWDER, ""), (CastMoment.Kind.INVESTED, "")],
        widget=forms.HiddenInput,
        error_messages=dict.fromkeys(("required", "invalid_choice"), "That cannot be pressed here."),
    )
    back = forms.BooleanField(required=False)


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
