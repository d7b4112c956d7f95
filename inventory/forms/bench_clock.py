"""Presses at the bench: what they may say."""

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
