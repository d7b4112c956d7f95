"""Forms for the people who sign in, and for the first of them."""

from typing import Any

from django import forms
from django.contrib.auth.forms import PasswordChangeForm, SetPasswordMixin
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.views.decorators.debug import sensitive_variables

from inventory.queries.setup import is_taken
from studio.kit.fields import LineField
from studio.kit.forms import StudioForm
from studio.kit.tries import TOO_MANY_TRIES, forget_tries, take_try

NAME_MAX = 60
PASSWORD_HELP = "At least 10 characters, not digits alone, and none that everybody uses."  # noqa: S105 - help, no secret


class AccountForm(SetPasswordMixin, StudioForm):
    """A name to sign in with, and a password typed twice."""

    username = LineField(
        label="Name to sign in with",
        max_length=NAME_MAX,
        help_text="As you like to be called. Capital letters count when you sign in.",
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
        error_messages={"required": "Write the name to sign in with."},
    )
    password1, password2 = SetPasswordMixin.create_password_fields("Password", "The same password again")
    error_messages = {"password_mismatch": "The two passwords are not the same. Write both again."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        prepare_passwords(self, "password1", "password2")

    def clean_username(self) -> str:
        name = User.normalize_username(self.cleaned_data["username"])
        if is_taken(User(), username__iexact=name):
            raise ValidationError("Somebody signs in with this name already. Write another.")
        return name

    @sensitive_variables()
    def clean(self) -> dict[str, Any] | None:
        self.validate_passwords()
        name = self.cleaned_data.get("username")
        self.validate_password_for_user(User(username=name or ""), "password1")
        return super().clean()

    def save(self) -> User:
        """Make the person. Raises IntegrityError when somebody took the name a moment ago."""
        self.person = User(username=self.cleaned_data["username"])
        self.set_password_and_save(self.person)
        return self.person


class NewPasswordForm(StudioForm, PasswordChangeForm):
    """One's own password: the old one once, the new one twice. `asker` is whose wrong tries are counted."""

    error_messages = {
        **AccountForm.error_messages,
        "password_incorrect": "This is not your password of today. Write it again.",
    }

    def __init__(self, *args: Any, asker: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.asker = asker
        self.fields["old_password"].label = "Your password of today"
        self.fields["old_password"].error_messages["required"] = "Write your password of today."
        self.fields["new_password1"].label = "New password"
        self.fields["new_password2"].label = "The new password again"
        prepare_passwords(self, "new_password1", "new_password2")

    @sensitive_variables()
    def clean_old_password(self) -> str:
        who = ("old password", self.asker, str(self.user.pk))
        if not take_try(*who):
            raise ValidationError(TOO_MANY_TRIES, code="too_many")
        old_password: str = super().clean_old_password()
        forget_tries(*who)
        return old_password


def prepare_passwords(form: forms.Form, first: str, second: str) -> None:
    """Say in one line what a password must be, and what to do when one is missing."""
    form.fields[first].help_text = PASSWORD_HELP
    form.fields[first].error_messages["required"] = "Write a password."
    form.fields[second].help_text = ""
    form.fields[second].error_messages["required"] = "Write the password once more."
