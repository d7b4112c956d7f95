"""The lists of plans, of schedules of burnout and of firings."""

from datetime import datetime
from functools import cached_property
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django_tables2 import A

from inventory.core.schedule import ScheduleStep, SetPoint, count_minutes
from inventory.models import DayPractice, Firing, Plan, Schedule
from inventory.queries.firing import KilnRecords, measured_energy
from inventory.queries.studio import schedule_steps
from studio.kit import printing
from studio.kit.columns import (
    CountColumn,
    DayColumn,
    FigureColumn,
    MassColumn,
    MinutesColumn,
    MomentColumn,
    TextColumn,
    WorkedColumn,
)
from studio.kit.printing import print_moment
from studio.kit.tables import BaseTable


class WishColumn(MomentColumn):
    """The moment that a casting day is planned around, and which it is."""

    def render(self, value: datetime, record: Plan) -> str:  # type: ignore[override]  # tables2 hands over what is asked for
        return f"{record.day.get_wish_display()} {super().render(value)}"


class PlanTable(BaseTable):
    """Rows come from `plans`."""

    caption = "Plans"

    title = TextColumn("What is planned")
    when = WishColumn("When", accessor="day__wish_at", wide=True)
    alloy = TextColumn(wide=True)
    flask = TextColumn(wide=True)
    metal_mg = MassColumn("Metal")
    state = TextColumn("State", accessor="pk", orderable=False)

    class Meta:
        empty_text = "No cast is planned. Plan one, and see whether all that it needs is here."
        order_by = "-when"

    def render_title(self, value: str, record: Plan) -> SafeString:
        """On a phone the moment stands under the title, for a plan without it tells little."""
        address = reverse("inventory:plan-detail", args=[record.pk])
        when = print_moment(timezone.localtime(record.day.wish_at))
        words = f"{record.day.get_wish_display()} {when}"
        return format_html(
            '<a href="{}">{}</a><span class="help narrow-only">{}</span>', address, value, words
        )

    def value_title(self, value: str) -> str:
        return value

    def render_alloy(self, value: Any, record: Plan) -> str:
        return f"{value}, {record.owner}" if record.owner else str(value)

    def render_state(self, record: Plan) -> str | SafeString:
        if record.cast is not None:
            address = reverse("inventory:cast-detail", args=[record.cast.number])
            return format_html('begun: <a href="{}">cast {}</a>', address, record.cast.number)
        if record.dropped:
            return "given up"
        return "open" if record.holds else "open, holds nothing"

    def value_state(self, record: Plan) -> str:
        if record.cast is not None:
            return f"begun: cast {record.cast.number}"
        return str(self.render_state(record))


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


def _energy_wh(firing: Firing, table: "FiringTable") -> int | None:
    energy = measured_energy(firing) or table.records.energy_of(firing)
    return None if energy.problem else energy.energy_wh


class FiringTable(BaseTable):
    """Rows come from `firings`."""

    caption = "Firings"

    day = DayColumn(linkify=("inventory:firing-detail", [A("pk")]))
    kiln = TextColumn(wide=True)
    minutes = MinutesColumn("In the kiln", wide=True)
    energy = WorkedColumn("Energy", _energy_wh, kind="energy", accessor="pk", orderable=False)
    cast_count = CountColumn("Casts", wide=True)
    note = TextColumn(wide=True)

    class Meta:
        empty_text = "No firing yet. Write one down after the burnout: which kiln, how long, and the meter."

    @cached_property
    def records(self) -> KilnRecords:
        """Every firing there is, read once for all rows that have no meter: what is measured puts these right."""
        return KilnRecords()
