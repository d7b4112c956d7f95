"""The list of schedules of burnout, and what is set on the kiln on one of them."""

from typing import Any

from django_tables2 import A

from inventory.core.schedule import ScheduleStep, SetPoint, count_minutes
from inventory.models import DayPractice, Schedule
from inventory.queries.schedules import schedule_steps
from studio.kit import printing
from studio.kit.columns import FigureColumn, TextColumn, WorkedColumn
from studio.kit.tables import BaseTable


def _takes(schedule: Schedule, table: "ScheduleTable") -> int:
    return count_minutes(schedule_steps(schedule, table.practice), table.practice.room_c)


class ScheduleTable(BaseTable):
    """Rows come from `schedules_with_top`; `practice` tells how the kiln begins and how fast it goes."""

    caption = "Schedules of burnout"
    first_step = ("Begin with common ones", "inventory:starters")

    name = TextColumn(linkify=("inventory:schedule", [A("pk")]))
    takes = WorkedColumn("Takes", _takes, kind="minutes", accessor="pk", orderable=False)
    top_c = FigureColumn("At most", kind="celsius", wide=True)
    powder = TextColumn(wide=True, default="any")
    pattern = TextColumn("Patterns", wide=True, default="any")
    largest_diameter_um = FigureColumn("Flasks up to", kind="length", wide=True, default="not said")

    class Meta:
        empty_text = (
            "No schedule yet. Write down the climbs and holds of your kiln; a casting day is timed by them."
        )

    def __init__(self, *args: Any, practice: DayPractice, **kwargs: Any) -> None:
        self.practice = practice
        super().__init__(*args, **kwargs)


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
