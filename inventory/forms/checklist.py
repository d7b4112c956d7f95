"""The form of one line of the list that is ticked before the pour."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.models import ChecklistItem
from studio.kit.fields import LineField
from studio.kit.forms import StudioModelForm

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
        if ChecklistItem.objects.filter(text__iexact=text).exclude(pk=self.instance.pk).exists():
            raise ValidationError("This line is in the list already. Write it another way, or leave it.")
        return text

    def clean(self) -> dict[str, Any]:
        if self.instance.pk is None and ChecklistItem.objects.count() >= LINES_MOST:
            raise ValidationError(TOO_MANY)
        return super().clean() or self.cleaned_data

    def save(self, commit: bool = True) -> ChecklistItem:
        """Save it; a new line goes to the end of the list."""
        if self.instance.pk is None:
            last = ChecklistItem.objects.order_by("-place").first()
            self.instance.place = last.place + 1 if last else 1
        item: ChecklistItem = super().save(commit)
        return item
