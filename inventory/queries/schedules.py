"""Reads of schedules of burnout: the list, one with its steps, and the casting days that follow it."""

from collections.abc import Sequence

from django.db.models import Max, QuerySet

from inventory.core.schedule import ScheduleStep
from inventory.core.schedule_check import Remark, check_schedule
from inventory.models import CastingDay, DayPractice, Material, Schedule

from .plan_sums import schedule_steps


def schedules_with_top() -> "QuerySet[Schedule]":
    """All schedules with their steps; `top_c` is the highest temperature of each."""
    return (
        Schedule.objects.select_related("powder", "pattern")
        .prefetch_related("steps")
        .annotate(top_c=Max("steps__target_c"))
    )


def remarks_on(schedule: Schedule, practice: DayPractice) -> tuple[Remark, ...]:
    """What stands against a schedule as it is now: its powder's sheet may have changed since it was saved."""
    return check_for_powder(schedule_steps(schedule, practice), schedule.powder, practice.room_c)


def check_for_powder(
    steps: Sequence[ScheduleStep], powder: Material | None, room_c: int
) -> tuple[Remark, ...]:
    """Steps held against a powder's sheet; of a powder that is not named, gypsum-bonded is the safe guess."""
    most_c, is_gypsum_bonded = (powder.most_c, powder.is_gypsum_bonded) if powder else (None, True)
    return check_schedule(steps, most_c, is_gypsum_bonded, room_c)


def days_to_come() -> "QuerySet[CastingDay]":
    """Casting days whose firing is not written down yet: their times still follow schedule and practice."""
    return CastingDay.objects.filter(firing=None)


def count_planned_days(schedule: Schedule) -> int:
    """How many days to come with a plan that is still open follow this schedule."""
    open_plans = {"plans__cast": None, "plans__dropped": False, "plans__isnull": False}
    return days_to_come().filter(schedule=schedule, **open_plans).distinct().count()


def powders_with_working_time() -> list[Material]:
    """Powders in use whose sheet says how long they can be worked; the quickest first, no more than a page of them."""
    powders = Material.objects.filter(
        kind=Material.Kind.POWDER, archived=False, working_minutes__isnull=False
    )
    return list(powders.order_by("working_minutes", "name")[:25])
