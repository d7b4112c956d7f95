"""What wears and is replaced, and the replacing of it."""

from datetime import date
from typing import Any

from django import forms

from inventory.models import Equipment, WearingPart
from inventory.queries.setup import in_use
from studio.kit.fields import LineField, NumberField
from studio.kit.forms import OnceMixin, StudioForm, StudioModelForm
from studio.kit.printing import print_day

from .stock import NoteLine
from .work_day import WorkDayField

_LONGEST_LIFE = 100_000
_LONGEST_LEAD_DAYS = 365


class WearingPartForm(StudioModelForm):
    name = LineField(
        label="What wears", max_length=80, help_text="The kiln's elements, the pump's oil, a hose."
    )
    equipment = forms.ModelChoiceField(
        in_use(Equipment),
        label="Of which machine",
        required=False,
        empty_label="all casts and firings wear it",
    )
    counted_by = forms.ChoiceField(label="It wears by", choices=WearingPart.CountedBy.choices)
    life = NumberField("It lasts about", 1, _LONGEST_LIFE)
    new_on = WorkDayField(label="New on")
    lead_days = NumberField("Days until another comes", 0, _LONGEST_LEAD_DAYS)
    note = NoteLine()

    class Meta:
        model = WearingPart
        fields = ["name", "equipment", "counted_by", "life", "new_on", "lead_days", "note"]

    def __init__(self, data: Any = None, instance: WearingPart | None = None, **more: Any) -> None:
        super().__init__(data, instance=instance or WearingPart(), **more)
        if self.instance.equipment_id:
            machines: Any = self.fields["equipment"]
            machines.queryset = in_use(Equipment, self.instance.equipment_id)

    def clean_new_on(self) -> date:
        """A page that was open before somebody replaced it holds the day of the old one."""
        day: date = self.cleaned_data["new_on"]
        last = self.instance.replacements.first() if self.instance.pk else None
        if last is not None and day < last.day:
            raise forms.ValidationError(
                f"It was replaced on {print_day(last.day, with_year=True)}. Take that back first, if it is wrong."
            )
        return day

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        machine, counted_by = cleaned.get("equipment"), cleaned.get("counted_by")
        is_kiln = machine is not None and machine.kind == Equipment.Kind.KILN
        if machine is not None and counted_by == WearingPart.CountedBy.HOURS and not is_kiln:
            self.add_error(
                "counted_by", f"Hours are known of kilns alone: {machine} is counted by casts or days."
            )
        if is_kiln and counted_by == WearingPart.CountedBy.CASTS:
            self.add_error("counted_by", f"{machine} is a kiln: count by its hours or by days.")
        return cleaned


class ReplacedForm(OnceMixin, StudioForm):
    """The day a part was replaced, and whether it was worn out: only then does its life teach anything."""

    day = WorkDayField(label="Replaced on")
    was_worn_out = forms.BooleanField(
        label="It was worn out",
        required=False,
        initial=True,
        help_text="Leave this out where it broke by mischance: then nothing is learnt from it.",
    )
    note = NoteLine()

    def __init__(self, *args: Any, part: WearingPart, **kwargs: Any) -> None:
        self.part = part
        super().__init__(*args, **kwargs)

    def clean_day(self) -> Any:
        day = self.cleaned_data["day"]
        if day < self.part.new_on:
            raise forms.ValidationError("It was new after that. Choose a later day.")
        return day
