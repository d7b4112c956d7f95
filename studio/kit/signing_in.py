"""Signing in, with a pause after too many wrong tries."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.http import HttpRequest

from studio.kit.forms import StudioForm
from studio.kit.tries import TOO_MANY_TRIES, find_asker, forget_tries, take_try

WRONG = "This name and password do not go together. Mind capital letters and try again."


USUAL_DAYS = 30
_DAY_SECONDS = 24 * 60 * 60


class SignInForm(StudioForm, AuthenticationForm):
    """Name and password, and for how long: on one's own device some days, elsewhere as long as the browser is open."""

    own_device = forms.BooleanField(label="This is my own phone or computer", required=False)

    enter_goes_on = False
    error_messages = {"invalid_login": WRONG, "inactive": "This person may no longer sign in."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        days = count_days(self.request)
        span = f"{days} day{'' if days == 1 else 's'}"
        own = self.fields["own_device"]
        own.help_text = f"You stay signed in for {span}. Otherwise until the browser is closed."
        self.fields["username"].label = "Name"
        self.fields["username"].error_messages["required"] = "Write the name you sign in with."
        self.fields["password"].error_messages["required"] = "Write your password."

    def clean(self) -> dict[str, Any]:
        name, password = self.cleaned_data.get("username"), self.cleaned_data.get("password")
        if not name or not password:
            return self.cleaned_data
        who = ("sign-in", find_asker(self.request, name), name.casefold())
        if not take_try(*who):
            raise forms.ValidationError(TOO_MANY_TRIES, code="too_many")
        cleaned = super().clean()
        forget_tries(*who)
        return cleaned

    @property
    def seconds(self) -> int:
        """For how long a valid form signs in; 0 is until the browser is closed."""
        return count_days(self.request) * _DAY_SECONDS if self.cleaned_data["own_device"] else 0


def count_days(request: HttpRequest | None) -> int:
    """For how many days the studio stays open to a device that somebody calls their own."""
    studio = getattr(request, "studio", None) or None
    return getattr(studio, "trusted_days", USUAL_DAYS)
