"""Reads for the pages of plans: what their form offers, one plan whole, plans that wait, what a step takes over."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet, Subquery

from inventory.models import (
    Cast,
    CastingDay,
    DayPractice,
    Entry,
    Equipment,
    Firing,
    Material,
    Movement,
    Piece,
    Plan,
    PlanPart,
    PlanPortion,
    Schedule,
    TreePart,
)
from studio.kit.printing import print_length

from .casting_choices import StudioChoices, read_studio_choices
from .ledger import standing_entries, stands
from .plan_drafts import PlanDraft
from .plan_sums import schedule_steps
from .planning import current_practice, schedules
from .schedules import check_for_powder

LATEST_PIECES = 400
MOST_NAMES = 80
MOST_OPEN = 12


@dataclass(frozen=True)
class PlanChoices:
    """Everything that the page of a plan offers, and the usual answers, read once."""

    studio: StudioChoices
    powders: Sequence[Material]
    patterns: Sequence[Material]
    schedules: Sequence[Schedule]
    practice: DayPractice
    names: Sequence[str]
    usual_powder: int | None
    usual_pattern: int | None
    usual_kiln: int | None

    @property
    def flasks(self) -> list[Equipment]:
        """Flasks whose inside is known: the powder is reckoned from it."""
        return [one for one in self.studio.of_kind("flask") if one.diameter_um and one.height_um]

    @property
    def kilns(self) -> list[Equipment]:
        return self.studio.of_kind("kiln")


def read_plan_choices() -> PlanChoices:
    """A fixed handful of queries, whatever is in the studio."""
    materials = list(
        Material.objects.filter(
            kind__in=[Material.Kind.POWDER, Material.Kind.PATTERN], unit=Material.Unit.MASS, archived=False
        )
    )
    last_investing = standing_entries().filter(kind=Entry.Kind.POWDER).order_by("-pk").values("pk")[:1]
    powder = Movement.objects.filter(entry=Subquery(last_investing)).order_by("line")
    tree = TreePart.objects.filter(void=False).order_by("-id")
    firings = Firing.objects.order_by("-day", "-id")
    return PlanChoices(
        studio=read_studio_choices(),
        powders=[one for one in materials if one.kind == Material.Kind.POWDER],
        patterns=[one for one in materials if one.kind == Material.Kind.PATTERN and one.density_mg_cm3],
        schedules=[one for one in schedules() if one.steps.all()],
        practice=current_practice(),
        names=_earlier_names(),
        usual_powder=powder.values_list("source__lot__material", flat=True).first(),
        usual_pattern=tree.values_list("material", flat=True).first(),
        usual_kiln=firings.values_list("kiln", flat=True).first(),
    )


def _earlier_names() -> list[str]:
    """What was cast or planned before, the latest first; castings of one pattern are numbered and count once."""
    pieces = Piece.objects.filter(void=False).order_by("-id").values_list("name", flat=True)[:LATEST_PIECES]
    parts = (
        PlanPart.objects.filter(is_piece=True).order_by("-id").values_list("label", flat=True)[:MOST_NAMES]
    )
    names = [re.sub(r" \d+$", "", name) for name in (*parts, *pieces)]
    return list(dict.fromkeys(names))[:MOST_NAMES]


def plans() -> "QuerySet[Plan]":
    """Plans with what a line of a list shows."""
    return Plan.objects.select_related("alloy", "owner", "day__kiln", "day__schedule", "cast", "flask")


def find_plan(pk: int) -> Plan | None:
    """A plan with everything that its page shows."""
    portions = PlanPortion.objects.select_related("lot__material", "lot__from_cast", "lot__holder")
    return (
        plans()
        .select_related("crucible", "machine", "pump", "powder", "day__firing")
        .prefetch_related(
            "day__schedule__steps",
            Prefetch("parts", PlanPart.objects.select_related("material")),
            Prefetch("portions", portions),
        )
        .filter(pk=pk)
        .first()
    )


def other_flasks(day: CastingDay, but: Plan | None = None) -> list[Plan]:
    """The other plans of a casting day that were not given up, in the order they were made."""
    found = day.plans.filter(dropped=False).select_related("alloy", "cast").order_by("id")
    return list(found.exclude(pk=but.pk) if but is not None else found)


def open_plans(most: int = MOST_OPEN) -> list[Plan]:
    """Plans that are neither begun nor given up, the one that is wished first at the top."""
    waiting = plans().filter(cast__isnull=True, dropped=False).order_by("day__wish_at", "id")
    return list(waiting.select_related("powder").prefetch_related("day__schedule__steps")[:most])


def find_day(pk: int) -> CastingDay | None:
    """A casting day that another flask may be put into."""
    return CastingDay.objects.select_related("kiln", "schedule", "firing").filter(pk=pk).first()


def check_plan_schedule(draft: PlanDraft, practice: DayPractice) -> tuple[str, ...]:
    """Where the schedule does not suit the powder or the flask. Each is a warning."""
    schedule, powder = draft.day.schedule, draft.powder
    steps = schedule_steps(schedule, practice)
    found = [remark.sentence for remark in check_for_powder(steps, powder, practice.room_c)]
    largest_um, wide_um = schedule.largest_diameter_um, draft.flask.diameter_um
    if not largest_um:
        found.append(
            f"The schedule {schedule} does not say how wide a flask it is for. A wide flask needs longer holds: "
            "look at the powder's sheet."
        )
    elif wide_um and wide_um > largest_um:
        found.append(
            f"The schedule {schedule} is for flasks up to {print_length(largest_um)} wide and this one is "
            f"{print_length(wide_um)}. Choose a slower one."
        )
    if schedule.powder_id and schedule.powder_id != powder.pk:
        found.append(f"The schedule {schedule} is for {schedule.powder}, and the powder is {powder}.")
    if schedule.pattern_id and schedule.pattern_id not in {part.material.pk for part in draft.parts}:
        found.append(f"The schedule {schedule} is for patterns of {schedule.pattern}, and the tree has none.")
    return tuple(found)


def plan_of(cast: Cast) -> Plan | None:
    """The plan that a cast was begun from, with its portions and parts."""
    return (
        Plan.objects.filter(cast=cast)
        .select_related("day__firing__kiln", "day__kiln")
        .prefetch_related(
            Prefetch("portions", PlanPortion.objects.select_related("lot__material")),
            Prefetch("parts", PlanPart.objects.select_related("material")),
        )
        .first()
    )


def plan_ahead_of(cast: Cast, kind: str) -> Plan | None:
    """The plan of a cast whose step of this kind of entry has not been written down yet."""
    plan = plan_of(cast)
    if plan is None:
        return None
    if kind == Entry.Kind.TREE:
        # A part of the tree that came from no lot has no entry.
        is_done = cast.tree_parts.filter(void=False).exists()
    else:
        is_done = Entry.objects.filter(stands(), cast=cast, kind=kind).exists()
    return None if is_done else plan
