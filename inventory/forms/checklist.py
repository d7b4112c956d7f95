"""A line of the list that is ticked before the pour, and what is pressed at the bench."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.models import CastMoment, ChecklistItem
from inventory.posting.setup import find_last_place
from inventory.queries.setup import checklist_lines, is_taken
from studio.kit.fields import LineField
from studio.kit.forms import StudioForm, StudioModelForm

LINES_MOST = 40
TOO_MANY = (
    f"The list has {LINES_MOST} lines at most: a longer one is not read before a pour. Take one out first."
)


class ChecklistForm(StudioModelForm):
    text = LineField(
        label="What is looked at",
        error_messages={"required": "Write what is looked at, such as Floor is dry."},
        help_text="As you would say it when it is so: Flask is dry, Gloves are on.",
    )
    when = forms.ChoiceField(label="When it is asked", choices=ChecklistItem.When.choices)

    class Meta:
        model = ChecklistItem
        fields = ["text", "when"]

    def clean_text(self) -> str:
        text: str = self.cleaned_data["text"]
        # What was ticked is kept by its words, so no two lines say the same.
        if is_taken(self.instance, text__iexact=text):
            raise ValidationError("This line is in the list already. Write it another way, or leave it.")
        return text

    def clean(self) -> dict[str, Any]:
        if self.instance.pk is None and len(checklist_lines()) >= LINES_MOST:
            raise ValidationError(TOO_MANY)
        return super().clean() or self.cleaned_data

    def save(self, commit: bool = True) -> ChecklistItem:
        """Save it; a new line goes to the end of the list."""
        if self.instance.pk is None:
            self.instance.place = find_last_place() + 1
        item: ChecklistItem = super().save(commit)
        return item


class PressForm(StudioForm):
    """A press on the clock: it was done now, or that was a mistake."""

    kind = forms.ChoiceField(
        choices=[(kind, "") for kind in CastMoment.Kind if kind != CastMoment.Kind.TICK],
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
