"""Reads of one casting day: its flasks, the bowl for them, the timetable and the curve, in a handful of queries."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import cached_property

from django.db.models import Exists, OuterRef, Prefetch, QuerySet
from django.utils import timezone

from inventory import models
from inventory.core.day_plan import DayPlan, FlaskPour
from inventory.core.lower_hold import LowerTop, are_all_kept, offer_lower_top
from inventory.core.melting import Power
from inventory.core.mixing import say_fills
from inventory.core.powder import POWDER_STEP_MG, Mix, compute_mix
from inventory.core.replanning import Replanned, Turn, replan
from inventory.core.schedule import ScheduleStep, compute_curve, compute_set_points, count_minutes
from inventory.core.slow_pour import compute_melter_set_point
from inventory.core.timetable import DayLine, Timetable, list_lines
from studio.kit.chart_curve import curve_chart
from studio.kit.chart_pen import Picture
from studio.kit.models import in_order
from studio.kit.printing import print_celsius, print_minutes
from studio.kit.working import Working

from .ledger import name_lot, stands
from .plan_figures import Bowls, flask_to_fill, put_in_bowls, slurry_of
from .plans import draft_of, portions_for
from .pours import flask_pour, melter_powers
from .studio import current_practice, days_to_come, hold_longer, slow_pour_of, steps_of_day, wish_of, work_day

Use = models.PlanPortion.Use
TO_COME = "not in stock yet"
GONE = ", of which so much is not there any more"


@dataclass(frozen=True)
class Weighing:
    """So much to weigh out, in milligrams, of what."""

    label: str
    mass_mg: int


@dataclass(frozen=True)
class Bowl:
    """One mix of one powder, and the flasks it fills."""

    powder: models.Material
    plans: tuple[models.Plan, ...]
    mix: Mix
    bowls: Bowls

    @property
    def too_much(self) -> str:
        return self.bowls.too_much

    @property
    def name(self) -> str:
        count = len(self.bowls.mixes)
        return f"{count} bowls in turn" if count > 1 else "one bowl"

    @property
    def fillings(self) -> list[tuple[str, int, int]]:
        """Of each bowl the flasks that it fills, its powder and its water; milligrams."""
        labels = [plan.title for plan in self.plans]
        return [(say_fills(mix, labels), mix.powder_mg, mix.water_mg) for mix in self.bowls.mixes]

    @property
    def weighings(self) -> list[Weighing]:
        """The powder by its lots, as the plans hold them; it adds up to the powder of the mix."""
        by_lot: dict[str, int] = {}
        for plan in self.plans:
            for portion in portions_for(plan, Use.POWDER):
                label = name_lot(portion.lot)
                by_lot[label] = by_lot.get(label, 0) + portion.quantity
        short_mg = self.mix.powder_mg - sum(by_lot.values())
        return [*(Weighing(*one) for one in by_lot.items()), *_still_to_come(self.powder, short_mg)]


@dataclass(frozen=True)
class FlaskFacts:
    """What one flask asks for at its pour, each under its name, and how the reckoned of it came about."""

    facts: tuple[tuple[str, str], ...]
    workings: tuple[Working, ...]


@dataclass(frozen=True)
class DaySheet:
    """A casting day with all that is planned on it. `plans` has those that were given up, `flasks` has not."""

    day: models.CastingDay
    practice: models.DayPractice
    plans: tuple[models.Plan, ...]
    now: datetime
    powers: Mapping[int, Power | None] = field(default_factory=dict)

    @cached_property
    def flasks(self) -> tuple[models.Plan, ...]:
        return tuple(plan for plan in self.plans if not plan.dropped)

    @property
    def is_begun(self) -> bool:
        return self.day.firing_id is not None or any(plan.cast_id for plan in self.flasks)

    @property
    def timetable(self) -> Timetable | None:
        """None for a day without flasks, or a schedule that gives no hours."""
        return self.replanned.timetable if self.replanned else None

    @cached_property
    def replanned(self) -> Replanned | None:
        """The day as it really goes."""
        # Once the work has begun, that its beginning is past is no news.
        return self.go_on(self.day.turned, None if self.is_begun else self.now) if self.has_plan else None

    def go_on(self, turned: Sequence[Turn], now: datetime | None = None) -> Replanned:
        """The same, were the kiln turned at these moments."""
        zone = timezone.get_current_timezone()
        return replan(wish_of(self.day), self._plan, zone, turned, now, self.day.top_c, self.now)

    @cached_property
    def lower_top(self) -> LowerTop | None:
        """A lower hold from which a pour that is late comes back to where it was; None once one was chosen."""
        if not self.has_plan or self.day.top_c is not None:
            return None
        return offer_lower_top(wish_of(self.day), self._plan, self.day.turned)

    @property
    def can_go_by_schedule(self) -> bool:
        """Whether no turn is of the lower top that was chosen."""
        if self.day.top_c is None or not self.has_plan:
            return True
        lower = replace(self._plan, steps=self.steps)
        return are_all_kept(lower, self._plan, self.day.turned)

    @cached_property
    def _plan(self) -> DayPlan:
        turns = [turn for bowl in self.bowls for turn in bowl.bowls.turns]
        return work_day(self.day, self.flasks[0].powder, self.practice, self.pours, turns)

    @property
    def has_plan(self) -> bool:
        return bool(self.flasks) and self.has_hours

    @cached_property
    def pours(self) -> tuple[FlaskPour, ...]:
        """The flasks as the timetable knows them, in the order of `flasks`."""
        return tuple(flask_pour(plan, plan.metal_mg, self.powers, self.practice) for plan in self.flasks)

    def mixes_for(self, plan: models.Plan) -> list[tuple[str, int, int]]:
        """The bowls that a flask is filled from: all the flasks that each fills, its powder and its water."""
        return [
            filling
            for bowl in self.bowls
            if plan in bowl.plans
            for filling, mix in zip(bowl.fillings, bowl.bowls.mixes, strict=True)
            if bowl.plans.index(plan) in {place for place, _ in mix.fills}
        ]

    def pour_of(self, plan: models.Plan) -> FlaskFacts | None:
        """What a flask asks for: by its alloy, its melt, the studio's own way to the mould; None for one given up."""
        if plan not in self.flasks:
            return None
        pour, practice = self.pours[self.flasks.index(plan)], self.practice
        wait = practice.quench_minutes if pour.quench_minutes is None else pour.quench_minutes
        point = compute_melter_set_point(pour.heats, slow_pour_of(practice), pour.alloy)
        facts = [
            *pour.heats.facts,
            ("Quench", f"{print_minutes(wait)} after the pour, or later"),
        ]
        workings = [pour.melt.working] if pour.melt else []
        if point is not None:
            facts.append(("Set the melter to", print_celsius(point.set_c)))
            workings.append(point.working)
        if pour.melt is not None:
            facts.append(("Melts in", f"{print_minutes(pour.melt.minutes)}, by {pour.melt.origin}"))
        return FlaskFacts(tuple(facts), tuple(workings))

    @cached_property
    def steps(self) -> tuple[ScheduleStep, ...]:
        return steps_of_day(self.day, self.practice)

    @property
    def held_steps(self) -> tuple[ScheduleStep, ...]:
        """The steps with the last hold as long as the flasks take to be poured in turn."""
        return hold_longer(self.steps, self.queue_minutes)

    @property
    def queue_minutes(self) -> int:
        """How much longer than its schedule the kiln holds, for the flasks that wait to be poured."""
        return self.timetable.queue_minutes if self.timetable else 0

    @property
    def has_hours(self) -> bool:
        return bool(self.steps)

    @cached_property
    def lines(self) -> tuple[DayLine, ...]:
        return list_lines(self.timetable) if self.timetable else ()

    @property
    def picture(self) -> Picture | None:
        """The curve of the kiln, and what is set by hand on the way."""
        if not self.has_hours:
            return None
        steps, practice = self.held_steps, self.practice
        points = compute_set_points(steps, practice.room_c, practice.largest_step_c)
        by_hand = [] if self.day.kiln.has_program else [(point.minute, point.set_c) for point in points]
        corners = compute_curve(steps, practice.room_c)
        return curve_chart(corners, by_hand) if corners[-1][0] else None

    @cached_property
    def bowls(self) -> tuple[Bowl, ...]:
        """What all flasks of the day take."""
        return mix_bowls(self.flasks, self.practice)

    @cached_property
    def bowls_to_mix(self) -> tuple[Bowl, ...]:
        """What the flasks take that are not invested yet."""
        return mix_bowls([plan for plan in self.flasks if not is_invested(plan)], self.practice)

    @property
    def title(self) -> str:
        """The day's casts in a few words."""
        titles = [plan.title for plan in self.flasks]
        if not titles:
            return "Casting day"
        return titles[0] if len(titles) == 1 else f"{titles[0]} and {len(titles) - 1} more"


def read_day(pk: int) -> DaySheet | None:
    return read_days([pk]).get(pk)


def read_days(pks: Iterable[int]) -> dict[int, DaySheet]:
    """Casting days with all that is planned on them, by their keys; as many queries for many as for one."""
    found = models.CastingDay.objects.select_related("kiln", "schedule", "firing").prefetch_related(
        "schedule__steps", "turns"
    )
    days = {
        day.pk: day for day in in_order(found.filter(pk__in=set(pks)), "wish_at", "pk", newest_first=True)
    }
    if not days:
        return {}
    plans: dict[int, list[models.Plan]] = {pk: [] for pk in days}
    for plan in in_order(_plans_of(days), "pk"):
        plan.day = days[plan.day_id]
        plans[plan.day_id].append(plan)
    powers = melter_powers(plan.machine for of in plans.values() for plan in of)
    practice, now = current_practice(), timezone.now()
    return {pk: DaySheet(day, practice, tuple(plans[pk]), now, powers) for pk, day in days.items()}


def planned_minutes(day: models.CastingDay) -> int:
    """How long the kiln is on: by the schedule or as it was really turned, and until the last flask is out."""
    sheet = read_day(day.pk)
    if sheet is None or not sheet.has_hours:
        return 0
    made = sheet.replanned
    if made is None or not made.turns:
        return count_minutes(sheet.held_steps, sheet.practice.room_c)
    return (made.pour - made.turns[0].at) // timedelta(minutes=1) + made.timetable.queue_minutes


def _plans_of(days: Iterable[int]) -> "QuerySet[models.Plan]":
    of_cast = {"cast": OuterRef("cast")}
    powder = models.Entry.objects.filter(stands(), kind=models.Entry.Kind.POWDER, **of_cast)
    last_vacuum = models.CastMoment.objects.filter(kind=models.CastMoment.Kind.INVESTED, **of_cast)
    return (
        models.Plan.objects.filter(day__in=list(days))
        .select_related("alloy", "owner", "flask", "crucible", "machine", "pump", "powder", "cast")
        .prefetch_related(
            "alloy__parts",
            Prefetch("parts", models.PlanPart.objects.select_related("material", "design")),
            Prefetch(
                "portions",
                models.PlanPortion.objects.select_related("lot__material", "lot__from_cast", "lot__holder"),
            ),
        )
        .annotate(has_powder=Exists(powder), has_vacuum=Exists(last_vacuum))
    )


def is_invested(plan: models.Plan) -> bool:
    """Whether the powder of a plan that was read with its day is in the flask already."""
    closed = plan.cast is not None and plan.cast.is_closed
    return closed or plan.has_powder or plan.has_vacuum  # type: ignore[attr-defined]  # annotated by the query


def charge_of(plan: models.Plan) -> list[Weighing]:
    """What is weighed into the crucible, by lot; it adds up to the plan's metal.

    A lot that was used elsewhere meanwhile is told apart, until the cast is begun.
    """
    found = [
        Weighing(
            name_lot(one.lot)
            + (GONE if plan.cast_id is None and one.lot.holder.quantity < one.quantity else ""),
            one.quantity,
        )
        for one in portions_for(plan, Use.METAL)
    ]
    return [*found, *_still_to_come(plan.alloy, plan.metal_mg - sum(one.mass_mg for one in found))]


def _still_to_come(what: object, short_mg: int) -> list[Weighing]:
    return [Weighing(f"{what}, {TO_COME}", short_mg)] if short_mg > 0 else []


def mix_bowls(plans: Iterable[models.Plan], practice: models.DayPractice) -> tuple[Bowl, ...]:
    """One bowl for each powder, with the flasks that it fills."""
    by_powder: dict[models.Material, list[models.Plan]] = {}
    for plan in plans:
        by_powder.setdefault(plan.powder, []).append(plan)
    mixed = {}
    for powder, filled in by_powder.items():
        flasks = [flask_to_fill(draft_of(plan))[0] for plan in filled]
        mixed[powder] = compute_mix(flasks, slurry_of(powder), practice.over_mix_pct100, POWDER_STEP_MG)
    return tuple(
        Bowl(
            powder,
            tuple(by_powder[powder]),
            mix,
            put_in_bowls(mix, powder, practice, [plan.title for plan in by_powder[powder]]),
        )
        for powder, mix in mixed.items()
    )


def items_for(
    crucible: models.Equipment | None, pump: models.Equipment | None, items: Sequence[models.ChecklistItem]
) -> list[str]:
    """The lines of the checklist that apply to a pour, each once."""
    applies = {models.ChecklistItem.When.ALWAYS}
    if crucible is not None and crucible.crucible_material == models.Equipment.CrucibleMaterial.GRAPHITE:
        applies.add(models.ChecklistItem.When.GRAPHITE)
    if pump is not None:
        applies.add(models.ChecklistItem.When.PUMP)
    return list(dict.fromkeys(item.text for item in items if item.when in applies))


def next_day(now: datetime) -> models.CastingDay | None:
    """The casting day under way or to come first: one that was wished within the last day still counts."""
    return (
        days_to_come()
        .filter(wish_at__gte=now - timedelta(days=1), plans__dropped=False)
        .select_related("kiln")
        .order_by("wish_at", "pk")
        .first()
    )


def latest_day() -> models.CastingDay | None:
    return models.CastingDay.objects.order_by("-wish_at", "-pk").first()
