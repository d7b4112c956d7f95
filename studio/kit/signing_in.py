"""Signing in, with a pause after too many wrong tries."""

import hashlib
from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.core.cache import cache

from studio.kit.forms import StudioForm

MOST_WRONG_TRIES = 10
PAUSE_SECONDS = 15 * 60
TOO_MANY_TRIES = "Too many wrong tries. Wait a quarter of an hour, then try again."
WRONG = "This name and password do not go together. Mind capital letters and try again."


class SignInForm(StudioForm, AuthenticationForm):
    """Name and password. Wrong tries are counted for each address and name together, in this process's memory."""

    error_messages = {"invalid_login": WRONG, "inactive": "This person may no longer sign in."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Name"
        self.fields["username"].error_messages["required"] = "Write the name you sign in with."
        self.fields["password"].error_messages["required"] = "Write your password."

    def clean(self) -> dict[str, Any]:
        address = self.request.META.get("REMOTE_ADDR", "") if self.request else ""
        key = count_key(address, str(self.cleaned_data.get("username", "")))
        if cache.get(key, 0) >= MOST_WRONG_TRIES:
            raise forms.ValidationError(TOO_MANY_TRIES, code="too_many")
        try:
            cleaned = super().clean()
        except forms.ValidationError:
            count_wrong_try(key)
            raise
        cache.delete(key)
        return cleaned


def count_key(address: str, username: str) -> str:
    """A cache key that holds any name, however odd."""
    digest = hashlib.sha256(f"{address}\n{username.casefold()}".encode(errors="replace")).hexdigest()
    return f"wrong-tries-{digest}"


def count_wrong_try(key: str) -> None:
    """One more wrong try; the pause runs from the first of them."""
    cache.add(key, 0, PAUSE_SECONDS)
    try:
        cache.incr(key)
    except ValueError:
        # It ran out between the two lines.
        cache.add(key, 1, PAUSE_SECONDS)
