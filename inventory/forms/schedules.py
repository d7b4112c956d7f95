"""The form of a schedule of burnout, with its climbs and holds as repeated lines."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.core.schedule import ScheduleStep
from inventory.core.schedule_check import (
    C_PER_HOUR_MOST,
    LABEL_MOST,
    MINUTES_MOST,
    TARGET_MOST_C,
)
from inventory.models import Material, Schedule
from inventory.queries.setup import in_use, is_taken
from inventory.queries.studio import check_for_powder, current_practice
from studio.kit.fields import CelsiusField, HeatingField, LengthField, LineField, MinutesField, PercentField
from studio.kit.forms import StudioModelForm
from studio.kit.rows import RowForm, RowsFormSet, make_rows
from studio.kit.units import UM_PER_MM

from .sheet import Sheet

NOTE_MOST = 500
WIDEST_UM = 1000 * UM_PER_MM
_BOTH_CLIMBS = "Write how long the climb takes or its degrees an hour, not both."
_ONE_STEP_LEAST = "Write at least one step: the temperature, and how long it is held."


class StepRow(RowForm):
    label = LineField(label="What it is for", required=False, max_length=LABEL_MOST)
    target_c = CelsiusField(label="To", maximum=TARGET_MOST_C)
    climb_minutes = MinutesField(label="Getting there takes", required=False, maximum=MINUTES_MOST)
    climb_c_per_hour = HeatingField(
        label="or degrees an hour", required=False, minimum=1, maximum=C_PER_HOUR_MOST
    )
    hold_minutes = MinutesField(label="Held for", required=False, maximum=MINUTES_MOST)
    on_pct100 = PercentField(label="Of this time it heats", required=False)

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if cleaned.get("climb_minutes") and cleaned.get("climb_c_per_hour"):
            self.add_error("climb_c_per_hour", _BOTH_CLIMBS)
        return cleaned


class StepRows(RowsFormSet):
    def steps(self) -> tuple[ScheduleStep, ...]:
        """The written steps in their order. Of valid lines only."""
        return tuple(
            ScheduleStep(
                row["target_c"],
                row["climb_minutes"] or 0,
                row["climb_c_per_hour"],
                row["hold_minutes"] or 0,
                row["label"] or "",
            )
            for row in self.written()
        )

    def shares(self) -> tuple[int | None, ...]:
        """Of each step, the share of its time that the kiln heats; None for the kiln's own."""
        return tuple(row["on_pct100"] for row in self.written())


StepFormSet = make_rows(
    StepRow,
    StepRows,
    row_word="Step",
    add_label="Add another step",
    remove_label="Leave this step out",
    least=1,
    nothing_written=_ONE_STEP_LEAST,
)


class ScheduleForm(StudioModelForm):
    name = LineField(label="Name", max_length=60, help_text="What you call it, such as Wax, flasks to 80 mm.")
    powder = forms.ModelChoiceField(
        in_use(Material, kind=Material.Kind.POWDER),
        label="For the powder",
        empty_label="any powder",
        required=False,
        help_text="Its highest temperature is minded then.",
    )
    pattern = forms.ModelChoiceField(
        in_use(Material, kind=Material.Kind.PATTERN),
        label="For patterns of",
        empty_label="any wax, plastic or resin",
        required=False,
        help_text="Resin, say: a plan chooses it only for trees that have some.",
    )
    largest_diameter_um = LengthField(
        label="For flasks up to",
        required=False,
        minimum=UM_PER_MM,
        maximum=WIDEST_UM,
        help_text="Inside diameter, by the powder's sheet: a wider flask needs longer holds. Left empty, a plan never "
        "chooses it by itself.",
    )
    note = LineField(label="Note", required=False, max_length=NOTE_MOST, help_text="Where it is from, say.")

    class Meta:
        model = Schedule
        fields = ["name", "powder", "pattern", "largest_diameter_um", "note"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("powder", "pattern"):
            field: Any = self.fields[name]
            if key := getattr(self.instance, f"{name}_id"):
                # What is no longer bought stays the choice of a schedule that has it.
                field.queryset = in_use(Material, key, kind=name)

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if is_taken(self.instance, name__iexact=name):
            raise ValidationError("There is a schedule of this name already. Write another name.")
        return name

    def settle(self, rows: Any, room_c: int) -> bool:
        """Hold valid steps against the powder and the kiln; False when one of them is wrong. Cautions pass."""
        powder: Material | None = self.cleaned_data["powder"]
        steps = rows.steps()
        faults = [remark for remark in check_for_powder(steps, powder, room_c) if not remark.is_caution]
        for fault in faults:
            field = "" if fault.step is None else _find_field(fault.about, steps[fault.step])
            rows.refuse(fault.sentence, field, fault.step)
        return not faults


class ScheduleSheet(Sheet):
    """The form of a schedule with the lines of its steps, which are held against its powder and the kiln."""

    def __init__(self, data: Any, schedule: Schedule | None) -> None:
        steps = StepFormSet(data, prefix="steps", initial=step_rows(schedule))
        super().__init__(ScheduleForm(data, instance=schedule), steps=steps)

    def is_valid(self) -> bool:
        form, steps = self.parts
        return super().is_valid() and form.settle(steps, current_practice().room_c)


def _find_field(about: str, step: ScheduleStep) -> str:
    if about == "climb":
        return "climb_minutes" if step.climb_c_per_hour is None else "climb_c_per_hour"
    return {"target": "target_c", "hold": "hold_minutes", "label": "label"}.get(about, "")


def step_rows(schedule: Schedule | None) -> list[dict[str, Any]]:
    """A schedule's steps as the lines of the form show them: 0 minutes is an empty field."""
    if schedule is None:
        return []
    return [
        {
            "label": step.label,
            "target_c": step.target_c,
            "climb_minutes": step.climb_minutes or None,
            "climb_c_per_hour": step.climb_c_per_hour,
            "hold_minutes": step.hold_minutes or None,
            "on_pct100": step.on_pct100,
        }
        for step in schedule.steps.all()
    ]
