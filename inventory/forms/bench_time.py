"""Time at the bench as forms ask for it: minutes or a clock, what was done, and how a tray of pieces shares it."""

from functools import partial
from typing import Any

from django import forms

from inventory.models import BenchTime, Task
from studio.kit.fields import MinutesField
from studio.kit.printing import print_minutes

MOST_MINUTES = 7 * 24 * 60

TaskField = partial(
    forms.ChoiceField, label="Doing what", required=False, choices=[("", "not said"), *Task.choices]
)


def offer_clock(field: forms.Field, clock: str, usual: int = 0) -> None:
    """Put a clock beside a field of minutes, and what is usual to be taken by one tap.

    `clock` names it on the device, so that it runs on through a reload; without one there is none.
    """
    if clock:
        field.widget.attrs["data-bench-clock"] = clock
    if usual:
        field.widget.attrs["data-usual"] = str(usual)
        field.help_text = f"Usually {print_minutes(usual)} for these."


class SpentMixin(forms.Form):
    """Asks what a step took at the bench; left empty, nothing is written. Stands before the form class.

    `task` is what it usually is. `shares` is on where several pieces share it.
    """

    spent = MinutesField(label="Time it took", required=False, minimum=1, maximum=MOST_MINUTES)
    task = TaskField()
    basis = forms.ChoiceField(
        label="They share the time",
        required=False,
        choices=BenchTime.Basis.choices,
        initial=BenchTime.Basis.EQUALLY,
    )

    def __init__(
        self,
        *args: Any,
        clock: str = "",
        usual: int = 0,
        task: str = Task.FINISH,
        shares: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["task"].initial = task
        if not shares:
            del self.fields["basis"]
        offer_clock(self.fields["spent"], clock, usual)
