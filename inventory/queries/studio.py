"""Reads of the studio's own settings, of how it does a casting day, and of its schedules of burnout."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from typing import cast

from django.db import connection
from django.db.models import Max, Q, QuerySet
from django.http import HttpRequest
from django.utils import timezone

from inventory.core.charge import ChargeRules
from inventory.core.clock import QuietHours
from inventory.core.day_plan import DayPlan, FlaskPour, Kiln, StudioPractice, Wish, WishKind
from inventory.core.investing import WorkingSplit, allocate_working_time, compute_phases
from inventory.core.mixing import MixTurn
from inventory.core.replanning import lower_top, replan
from inventory.core.schedule import Pace, ScheduleStep
from inventory.core.schedule_check import Remark, check_schedule
from inventory.core.slow_pour import SlowPour
from inventory.core.timetable import Timetable
from inventory.models import CastingDay, DayPractice, Equipment, Material, Schedule, Studio
from studio.kit.models import only_one
from studio.kit.units import SECONDS_PER_MINUTE

from .kiln_curves import pace_of
from .plain import plain_rows
from .plans import DayDraft


class NotSetUp(Exception):
    """There is no studio in this database yet: the welcome page makes it."""


def current_studio(lock: bool = False) -> Studio:
    """The one studio. Raises NotSetUp when nobody has set it up; `lock` holds its row until the transaction ends."""
    can_lock = connection.features.has_select_for_update
    for studio in plain_rows(Studio, "ORDER BY id LIMIT 1" + (" FOR UPDATE" if lock and can_lock else "")):
        return studio
    raise NotSetUp("This studio is not set up yet.")


def charge_rules(per_mille: int, studio: Studio) -> ChargeRules:
    """What a charge of this fineness must keep here."""
    return ChargeRules(per_mille, studio.least_fresh_pct100, studio.most_melts_milli)


def studio_of(request: HttpRequest) -> Studio:
    """The studio of a page, asked for once in a request. There is one: the middleware sees to that."""
    return cast(Studio, request.studio)  # type: ignore[attr-defined]  # set by StudioMiddleware


def current_practice() -> DayPractice:
    """The studio's practice, or the defaults while it has said nothing (not saved)."""
    return only_one(DayPractice.objects.all()) or DayPractice(pk=1)


def split_for(practice: DayPractice, powder: Material | None = None) -> WorkingSplit:
    """The studio's own split of the working time; a quicker powder gets the same work in what its sheet gives."""
    split = WorkingSplit(practice.mix_s, practice.vacuum_bowl_s, practice.fill_s, practice.vacuum_flask_s)
    minutes = powder.working_minutes if powder else None
    if minutes and 0 < minutes * SECONDS_PER_MINUTE < split.total_s:
        split, _ = allocate_working_time(minutes * SECONDS_PER_MINUTE, split)
    return split


def schedules() -> "QuerySet[Schedule]":
    """The studio's schedules in use, with their steps."""
    return (
        Schedule.objects.filter(archived=False).select_related("powder", "pattern").prefetch_related("steps")
    )


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
    """Casting days whose firing has not ended yet: their times still follow schedule and practice."""
    return CastingDay.objects.filter(Q(firing=None) | Q(firing__minutes=None))


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


def choose_schedule(
    known: Sequence[Schedule], powder: Material, flask: Equipment, patterns: Iterable[Material] = ()
) -> Schedule | None:
    """The schedule for this powder, flask and tree: of those that say so, the one for the smallest flasks.

    One that does not say how wide a flask it is for is never chosen, and one for a pattern material only where
    that is on the tree.
    """
    materials = {None, *(material.pk for material in patterns)}

    def fits(schedule: Schedule) -> bool:
        is_wide_enough = 0 < (flask.diameter_um or 0) <= (schedule.largest_diameter_um or 0)
        return is_wide_enough and schedule.powder_id in (None, powder.pk) and schedule.pattern_id in materials

    return min(
        filter(fits, known),
        key=lambda one: (one.pattern_id is None, one.powder_id is None, one.largest_diameter_um, one.pk),
        default=None,
    )


def schedule_steps(
    schedule: Schedule, practice: DayPractice, kiln: Equipment | None = None
) -> tuple[ScheduleStep, ...]:
    """A schedule's steps at the pace of a kiln, by its own curve where it has one; without a kiln at the studio's."""
    return steps_at(schedule, pace_of(kiln, practice))


def steps_at(schedule: Schedule, pace: Pace) -> tuple[ScheduleStep, ...]:
    return tuple(
        ScheduleStep(
            step.target_c, step.climb_minutes, step.climb_c_per_hour, step.hold_minutes, step.label, pace
        )
        for step in schedule.steps.all()
    )


def hold_longer(steps: tuple[ScheduleStep, ...], minutes: int) -> tuple[ScheduleStep, ...]:
    """The steps with the last hold so much longer: as long as several flasks take to be poured in turn."""
    if not steps or not minutes:
        return steps
    return (*steps[:-1], replace(steps[-1], hold_minutes=steps[-1].hold_minutes + minutes))


def steps_of_day(day: CastingDay, practice: DayPractice) -> tuple[ScheduleStep, ...]:
    """The steps of its schedule, none above the top that was chosen for the day."""
    return below_top(schedule_steps(day.schedule, practice, day.kiln), day, practice)


def below_top(
    steps: tuple[ScheduleStep, ...], day: CastingDay, practice: DayPractice
) -> tuple[ScheduleStep, ...]:
    """Steps of the day's schedule, none above the top that was chosen for it."""
    return steps if day.top_c is None else lower_top(steps, day.top_c, practice.room_c)


def wish_of(day: DayDraft | CastingDay) -> Wish:
    return Wish(WishKind.POUR if day.wish == CastingDay.Wish.POUR else WishKind.KILN_ON, day.wish_at)


def quiet_of(practice: DayPractice) -> QuietHours:
    return QuietHours(practice.night_from, practice.night_to)


def slow_pour_of(practice: DayPractice) -> SlowPour:
    return SlowPour(practice.fall_tenths_c_s, practice.carry_s)


def work_timetable(
    day: DayDraft | CastingDay,
    powder: Material,
    practice: DayPractice,
    now: datetime | None,
    flasks: Sequence[FlaskPour] = (FlaskPour(),),
    mixes: Sequence[MixTurn] = (),
) -> Timetable:
    """The timetable of a casting day on the studio's clock; each flask has lines of its own from the metal on.

    From when the kiln was turned on, it is the timetable as the day really goes. `mixes` are the bowls in turn; none:
    one bowl of this powder.
    """
    plan = work_day(day, powder, practice, flasks, mixes)
    zone = timezone.get_current_timezone()
    return replan(wish_of(day), plan, zone, day.turned, now, day.top_c).timetable


def kiln_of(day: DayDraft | CastingDay, practice: DayPractice) -> Kiln:
    return Kiln(day.kiln.has_program, practice.largest_step_c, practice.room_c)


def work_day(
    day: DayDraft | CastingDay,
    powder: Material,
    practice: DayPractice,
    flasks: Sequence[FlaskPour] = (FlaskPour(),),
    mixes: Sequence[MixTurn] = (),
) -> DayPlan:
    """What a casting day is planned from, by its own schedule."""
    return DayPlan(
        steps=schedule_steps(day.schedule, practice, day.kiln),
        kiln=kiln_of(day, practice),
        practice=StudioPractice(
            standing_minutes=day.standing_minutes,
            crucible_c=practice.crucible_c,
            lead_minutes=practice.lead_minutes,
            quench_minutes=practice.quench_minutes,
            quiet=quiet_of(practice),
            out_minutes=practice.out_minutes,
            table_minutes=practice.table_minutes,
            change_minutes=practice.change_minutes,
            cooling_minutes=practice.cooling_minutes,
            slow=slow_pour_of(practice),
        ),
        phases=compute_phases(split_for(practice, powder)),
        flasks=tuple(flasks),
        mixes=tuple(mixes),
    )
