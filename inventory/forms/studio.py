"""Forms for the studio's settings and first day, the people who sign in, its suppliers and customers."""

from typing import Any

from django import forms
from django.contrib.auth.forms import PasswordChangeForm, SetPasswordMixin
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.views.decorators.debug import sensitive_variables

from inventory.models import Customer, Studio, Supplier
from inventory.posting.setup import begin_studio
from inventory.queries.setup import is_taken
from studio.kit.fields import LineField, MassField, MeltsField, NumberField, PercentField
from studio.kit.forms import StudioForm, StudioModelForm
from studio.kit.tries import TOO_MANY_TRIES, forget_tries, take_try
from studio.kit.units import MELTS_MILLI_PER_MELT, MG_PER_G, PCT100_PER_PERCENT

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


CURRENCY_SENTENCE = "Write the currency as three letters, such as GBP or EUR."
REORDER_WEEKS = (4, 104)


class CurrencyField(forms.CharField):
    """Three letters, kept as capitals."""

    def __init__(self, **kwargs: Any) -> None:
        validators = [RegexValidator(r"^[A-Za-z]{3}\Z", CURRENCY_SENTENCE)]
        attrs = {"autocomplete": "off", "autocapitalize": "characters", "maxlength": "3", "class": "number"}
        super().__init__(
            label="Currency",
            validators=validators,
            widget=forms.TextInput(attrs=attrs),
            error_messages={"required": CURRENCY_SENTENCE},
            **kwargs,
        )

    def clean(self, value: Any) -> str:
        return super().clean(value).upper()


class NewStudioForm(StudioForm):
    """The name and the currency of a studio that is about to begin."""

    name = LineField(
        label="Name of the studio",
        max_length=60,
        help_text="It stands at the top of every page and report.",
        error_messages={"required": "Write what the studio is called."},
    )
    currency = CurrencyField(
        initial="GBP", help_text="Three letters, such as GBP or EUR. All money here is in this one currency."
    )

    def save_studio(self) -> Studio:
        """Raises IntegrityError when another studio was set up a moment ago."""
        return begin_studio(self.cleaned_data["name"], self.cleaned_data["currency"])


class WelcomeForm(AccountForm, NewStudioForm):
    """The first studio and the first person together."""

    field_order = ["name", "currency", "username", "password1", "password2"]


class StudioSettingsForm(StudioModelForm):
    """Every setting of the studio that touches stock."""

    name = LineField(label="Name of the studio", max_length=60)
    currency = CurrencyField(
        help_text="Changing it renames every amount and converts none: change it only if it was wrong from the start."
    )
    money_decimals = NumberField(
        "Decimals of money on pages",
        0,
        4,
        "Two for pence or cents. Amounts are kept exactly, whatever is shown.",
    )
    scale_division_mg = MassField(
        label="The scale reads to",
        minimum=1,
        maximum=10 * MG_PER_G,
        help_text="The smallest step of your scale, such as 0.01 g. It decides which loss is too small to be shown.",
    )
    least_fresh_pct100 = PercentField(
        label="Fresh metal in a charge, at least",
        help_text="Common practice: half fresh metal, half reclaimed. You are told when a charge has less.",
    )
    most_melts_milli = MeltsField(
        label="Melts of reclaimed metal, at most",
        minimum=MELTS_MILLI_PER_MELT,
        maximum=100 * MELTS_MILLI_PER_MELT,
        help_text="You are told when a pour takes metal beyond this: time to have it refined.",
    )
    reorder_certainty_pct100 = PercentField(
        label="Certainty of not running out",
        minimum=50 * PCT100_PER_PERCENT,
        maximum=9990,
        help_text="How sure you want to be that powder and metal last until the parcel comes, such as 95 %.",
    )
    reorder_weeks = NumberField(
        "Weeks looked back",
        *REORDER_WEEKS,
        "How far back use is counted to tell how much a week takes. Half a year is 26.",
    )
    holding_pct100 = PercentField(
        label="What money in stock costs in a year",
        maximum=100 * PCT100_PER_PERCENT,
        help_text="It weighs a large pack against a small one: interest, space, what is spoilt, such as 10 %.",
    )
    trusted_days = forms.IntegerField(
        label="Days signed in on one's own device",
        min_value=1,
        max_value=365,
        help_text="For who says at sign-in that the phone or computer is their own. It counts from the next sign-in.",
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )

    class Meta:
        model = Studio
        fields = [
            "name",
            "currency",
            "money_decimals",
            "scale_division_mg",
            "least_fresh_pct100",
            "most_melts_milli",
            "reorder_certainty_pct100",
            "reorder_weeks",
            "holding_pct100",
            "trusted_days",
        ]


DAYS_MAX = 365


class SupplierForm(StudioModelForm):
    name = LineField(label="Name", max_length=80)
    lead_time_days = NumberField(
        "Days a parcel takes", 0, DAYS_MAX, "From the order to the bench, as it usually goes.", initial=7
    )
    lead_time_spread_days = NumberField(
        "Give or take, in days",
        0,
        DAYS_MAX,
        "How much earlier or later it may be; a quarter of that is assumed where it is left empty. It decides how "
        "early to order.",
        required=False,
    )
    contact = LineField(label="How to reach them", max_length=200, required=False)

    class Meta:
        model = Supplier
        fields = ["name", "lead_time_days", "lead_time_spread_days", "contact"]


class CustomerForm(StudioModelForm):
    name = LineField(label="Name", max_length=80)
    contact = LineField(label="How to reach them", max_length=200, required=False)

    class Meta:
        model = Customer
        fields = ["name", "contact"]
