"""Schedules of burnout: the climbs and holds that a casting day is timed by."""

from typing import Any

from django.contrib import messages
from django.db import IntegrityError
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from inventory.core.schedule import (
    compute_curve,
    compute_set_points,
    compute_total_minutes,
    explain_set_points,
)
from inventory.filters.studio import InUseFilter
from inventory.forms.schedules import ScheduleForm, StepFormSet, step_rows
from inventory.models import DayPractice, Schedule
from inventory.queries.schedules import count_planned_days, remarks_on, schedule_steps, schedules_with_top
from inventory.queries.studio import current_practice
from inventory.tables.schedules import ScheduleTable, describe_set_point, describe_step
from studio.kit.charts import curve_chart
from studio.kit.listing import ListingView
from studio.kit.rows import answer_in_place, asks_for_row, hold_judgement

from .records import NAME_TAKEN
from .saving import alone


class ScheduleList(ListingView):
    title = "Schedules of burnout"
    lead = "The climbs and holds of the kiln, for a powder and for flasks up to a size."
    table_class = ScheduleTable
    filterset_class = InUseFilter
    press = ("Write down a schedule", "inventory:schedule-new")

    def get_queryset(self) -> "QuerySet[Schedule]":
        return schedules_with_top()

    def get_table_kwargs(self) -> dict[str, Any]:
        return {"practice": current_practice()}


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
def edit_schedule(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Write down a schedule, or change one."""
    schedule = get_object_or_404(schedules_with_top(), pk=pk) if pk is not None else None
    saved_name = str(schedule) if schedule else ""
    form = ScheduleForm(request.POST or None, instance=schedule)
    steps = StepFormSet(request.POST or None, prefix="steps", initial=step_rows(schedule))
    in_place = answer_in_place(steps)
    if in_place is not None:
        return in_place
    if request.method == "POST" and asks_for_row(request.POST):
        hold_judgement(form, steps)
    elif request.method == "POST" and _save(form, steps):
        messages.success(request, f"Saved: {form.instance}.")
        return redirect("inventory:schedule", pk=form.instance.pk)
    return render(request, "setup/schedule_edit.html", _make_context(schedule, saved_name, form, steps))


def _save(form: ScheduleForm, steps: Any) -> bool:
    # Both are looked at, so that every mistake shows at once.
    are_valid = [form.is_valid(), steps.is_valid()]
    if not all(are_valid) or not form.settle(steps, current_practice().room_c):
        return False
    try:
        form.save_with(steps)
    except IntegrityError:
        form.add_error("name", NAME_TAKEN)
        return False
    return True


def _make_context(
    schedule: Schedule | None, saved_name: str, form: ScheduleForm, steps: Any
) -> dict[str, Any]:
    list_address = reverse("inventory:schedule-list")
    archive_address = ""
    if schedule is not None:
        list_address = reverse("inventory:schedule", args=[schedule.pk])
        archive_address = reverse("inventory:archive", args=["schedule", schedule.pk])
    return {
        "object": schedule,
        "form": form,
        "steps": steps,
        "planned_days": count_planned_days(schedule) if schedule else 0,
        "title": f"Change {saved_name}" if schedule else "A new schedule",
        "list_address": list_address,
        "list_label": saved_name or "Schedules of burnout",
        "save_label": "Save",
        "section": "setup",
        "archive_address": archive_address,
    }
