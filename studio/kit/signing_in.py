"""Signing in, with a pause after too many wrong tries."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm

from studio.kit.forms import StudioForm
from studio.kit.tries import TOO_MANY_TRIES, find_asker, forget_tries, take_try

WRONG = "This name and password do not go together. Mind capital letters and try again."


class SignInForm(StudioForm, AuthenticationForm):
    """Name and password."""

    enter_goes_on = False
    error_messages = {"invalid_login": WRONG, "inactive": "This person may no longer sign in."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
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
