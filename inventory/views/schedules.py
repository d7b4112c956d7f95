"""What the kiln does: schedules of burnout, how the studio does a casting day, and firings."""

from collections.abc import Iterator
from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from inventory.core.investing import WorkingSplit, check_split
from inventory.core.schedule import (
    compute_curve,
    compute_set_points,
    compute_total_minutes,
    explain_set_points,
)
from inventory.filters import FiringFilter
from inventory.forms.day_practice import DayPracticeForm
from inventory.forms.equipment import FiringForm
from inventory.forms.schedules import ScheduleForm, ScheduleSheet
from inventory.forms.sheet import Sheet
from inventory.models import DayPractice, Firing, Material, Schedule
from inventory.posting.setup import renew_days, write_steps
from inventory.queries.firing import firings
from inventory.queries.studio import (
    count_planned_days,
    current_practice,
    days_to_come,
    powders_with_working_time,
    remarks_on,
    schedule_steps,
    schedules_with_top,
    split_for,
)
from inventory.tables.plans import FiringTable, ScheduleTable, describe_set_point, describe_step
from studio.kit.chart_curve import curve_chart
from studio.kit.printing import print_date
from studio.kit.units import SECONDS_PER_MINUTE

from .records import RecordPages
from .saving import alone, answer, sent, show


class Schedules(RecordPages):
    name, folder, edit_path = "schedule", "setup/schedules/", "<whole:pk>/edit/"
    model, form_class, table_class = Schedule, ScheduleForm, ScheduleTable
    title = "Schedules of burnout"
    lead = "The climbs and holds of the kiln, for a powder and for flasks up to a size."
    press = ("Write down a schedule", "inventory:schedule-new")
    new_title = "A new schedule"
    record_template = "setup/schedule_edit.html"

    def get_queryset(self) -> "QuerySet[Schedule]":
        return schedules_with_top()

    def get_table_kwargs(self) -> dict[str, Any]:
        return {"practice": current_practice()}

    def make_sheet(self, data: Any, record: Schedule | None) -> ScheduleSheet:
        return ScheduleSheet(data, record)

    def save(self, sheet: Any) -> Schedule:
        schedule: Schedule = sheet.form.save()
        write_steps(schedule, sheet.rows["steps"].steps(), sheet.rows["steps"].shares())
        return schedule

    def describe(self, record: Schedule) -> str:
        return f"Change {record}"

    def find_way_back(self, record: Schedule | None) -> tuple[str, str]:
        if record is None:
            return super().find_way_back(record)
        return self.find_way_on(record), str(record)

    def find_way_on(self, record: Schedule) -> str:
        return reverse("inventory:schedule", args=[record.pk])

    def read_more(self, record: Schedule | None) -> dict[str, Any]:
        return {"planned_days": count_planned_days(record) if record else 0}


@require_safe
def show_schedule(request: HttpRequest, pk: int) -> HttpResponse:
    """One schedule: how long it takes, its curve, and what is set by hand."""
    schedule = get_object_or_404(schedules_with_top(), pk=pk)
    practice = current_practice()
    context = {
        "schedule": schedule,
        "section": "setup",
        "practice": practice,
        "remarks": remarks_on(schedule, practice),
        "planned_days": count_planned_days(schedule),
        **_work_out(schedule, practice),
    }
    return render(request, "setup/schedule.html", context)


def _work_out(schedule: Schedule, practice: DayPractice) -> dict[str, Any]:
    steps = schedule_steps(schedule, practice)
    if not steps:
        return {}
    total, working = compute_total_minutes(steps, practice.room_c)
    points = compute_set_points(steps, practice.room_c, practice.largest_step_c)
    curve = compute_curve(steps, practice.room_c)
    picture = None
    if len(curve) > 1:
        picture = curve_chart(curve, [(point.minute, point.set_c) for point in points])
    return {
        "total": total,
        "total_working": working,
        "picture": picture,
        "steps": [describe_step(step) for step in steps],
        "set_points": [describe_set_point(point) for point in points],
        "set_working": explain_set_points(steps, practice.room_c, practice.largest_step_c),
    }


@require_http_methods(["GET", "HEAD", "POST"])
@alone
def edit_practice(request: HttpRequest) -> HttpResponse:
    """The studio's own practice; until it is saved once, common practice stands in it."""
    practice = current_practice()
    form = DayPracticeForm(sent(request), instance=practice)
    context = {
        "section": "setup",
        "is_new": practice._state.adding,
        "too_long": list(_find_too_long(split_for(practice), powders_with_working_time())),
    }
    sheet = Sheet(form)
    return answer(sheet, lambda: _save(request, form)) or show(
        request, "setup/day_practice.html", sheet, context
    )


def _save(request: HttpRequest, form: DayPracticeForm) -> str:
    form.save()
    renew_days(days_to_come())
    messages.success(request, "Saved. Plans from now on, and the times of days to come, follow it.")
    return reverse("inventory:day-practice")


def _find_too_long(split: WorkingSplit, powders: list[Material]) -> Iterator[str]:
    """A sentence for each powder that sets before the studio has done with it."""
    for powder in powders:
        for sentence in check_split(split, (powder.working_minutes or 0) * SECONDS_PER_MINUTE):
            yield f"{powder}: {sentence}"


class Firings(RecordPages):
    """No stock moves when one is mended; the cost of its casts follows."""

    name, folder, edit_path = "firing", "firings/", "<whole:pk>/edit/"
    model, form_class, table_class = Firing, FiringForm, FiringTable
    title = "Firings"
    lead = "Each time the kiln ran: how long, how much it used, and which casts were in it."
    press = ("Write down a firing", "inventory:firing-new")
    filterset_class = FiringFilter
    totals = {"minutes": "minutes"}
    new_title = "A new firing"
    record_template = "firing/edit.html"

    def get_queryset(self) -> Any:
        return firings()

    def describe(self, record: Firing) -> str:
        return f"Firing of {print_date(record.day)}"

    def describe_saved(self, record: Firing) -> str:
        return "Saved."

    def find_way_back(self, record: Firing | None) -> tuple[str, str]:
        return (self.find_way_on(record) if record else self.list_address), self.title

    def find_way_on(self, record: Firing) -> str:
        return reverse("inventory:firing-detail", args=[record.pk])
