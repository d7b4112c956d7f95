"""What is pressed beside a kiln: it was turned now, or at a time; and whether to burn out at a lower heat."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django import forms
from django.utils import timezone

from inventory.core.clock import find_last_time
from inventory.core.day_plan import CRUCIBLE_MOST_C
from studio.kit.fields import CelsiusField, EnergyField
from studio.kit.forms import StudioForm

from .day_practice import ClockField
from .equipment import METER_MAX_WH

_STALE = "The day has changed meanwhile. Look at its timetable again."


def read_clock(form: StudioForm, now: datetime) -> datetime:
    """The moment of what was written as `clock` in a form that was found right; now where that is empty."""
    clock = form.cleaned_data["clock"]
    if clock is None:
        return now
    return find_last_time(clock.hour, clock.minute, now, timezone.get_current_timezone())


class TurnForm(StudioForm):
    """Which set point the kiln was turned to, and when: left empty, now. `turns` are (place, words)."""

    place = forms.ChoiceField(
        label="What was done", error_messages=dict.fromkeys(("required", "invalid_choice"), _STALE)
    )
    clock = ClockField(
        label="At",
        required=False,
        help_text="As the clock showed it, within the last day. Left empty, it is now.",
    )
    seen = CelsiusField(
        label="The kiln shows",
        required=False,
        maximum=CRUCIBLE_MOST_C,
        help_text="Where it stood before you turned it. From this the kiln's own pace is learnt.",
    )
    meter = EnergyField(
        label="Meter now",
        required=False,
        maximum=METER_MAX_WH,
        help_text="As it reads, in kWh: then the firing begins by it, and is ended later.",
    )
    back = forms.BooleanField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, turns: Iterable[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["place"]
        field.choices = [(str(place), words) for place, words in turns]


class EndForm(StudioForm):
    """The kiln is off: when, and what the meter reads."""

    clock = ClockField(
        label="It went off at", required=False, help_text="Within the last day. Left empty, it is now."
    )
    meter = EnergyField(
        label="Meter now", required=False, maximum=METER_MAX_WH, help_text="As it reads, in kWh."
    )


class TopForm(StudioForm):
    """Burn out at the lower heat that was offered (C), or, left empty, by the schedule again."""

    top_c = forms.ChoiceField(required=False, error_messages={"invalid_choice": _STALE})

    def __init__(self, *args: Any, offered_c: int | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["top_c"]
        field.choices = [] if offered_c is None else [(str(offered_c), "")]
