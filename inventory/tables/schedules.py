"""The list of schedules of burnout, and what is set on the kiln on one of them."""

from typing import Any

from django_tables2 import A

from inventory.core.schedule import ScheduleStep, SetPoint, count_minutes
from inventory.models import DayPractice, Schedule
from inventory.queries.schedules import schedule_steps
from studio.kit import printing
from studio.kit.columns import FigureColumn, MinutesColumn, TextColumn
from studio.kit.tables import BaseTable


class ScheduleTable(BaseTable):
    """Rows come from `schedules_with_top`; `practice` tells how the kiln begins and how fast it goes."""

    caption = "Schedules of burnout"
    first_step = ("Begin with common ones", "inventory:starters")

    name = TextColumn(linkify=("inventory:schedule", [A("pk")]))
    takes = MinutesColumn(empty_values=(), orderable=False, verbose_name="Takes")
    top_c = FigureColumn(kind="celsius", verbose_name="At most", wide=True)
    powder = TextColumn(wide=True, default="any")
    pattern = TextColumn(verbose_name="Patterns", wide=True, default="any")
    largest_diameter_um = FigureColumn(
        kind="length", verbose_name="Flasks up to", wide=True, default="not said"
    )

    class Meta:
        model = Schedule
        fields = ("name", "takes", "top_c", "powder", "pattern", "largest_diameter_um")
        empty_text = (
            "No schedule yet. Write down the climbs and holds of your kiln; a casting day is timed by them."
        )

    def __init__(self, *args: Any, practice: DayPractice, **kwargs: Any) -> None:
        self.practice = practice
        super().__init__(*args, **kwargs)

    def render_takes(self, record: Schedule) -> str:
        return printing.print_minutes(self.value_takes(record))

    def value_takes(self, record: Schedule) -> int:
        return count_minutes(schedule_steps(record, self.practice), self.practice.room_c)


def describe_step(step: ScheduleStep) -> tuple[str, str, str, str]:
    """Temperature, what it is for, the way there and the hold, as a table prints them."""
    if step.climb_c_per_hour is not None:
        way = f"at {printing.print_heating_rate(step.climb_c_per_hour)}"
    elif step.climb_minutes:
        way = f"in {printing.print_minutes(step.climb_minutes)}"
    else:
        way = "as fast as it can"
    hold = printing.print_minutes(step.hold_minutes) if step.hold_minutes else printing.NOTHING
    return printing.print_celsius(step.target_c), step.label, way, hold


def describe_set_point(point: SetPoint) -> tuple[str, str, str]:
    """When, to what, and for which step."""
    when = f"after {printing.print_minutes(point.minute)}" if point.minute else "kiln on"
    return when, printing.print_celsius(point.set_c), point.label
