"""Which plans there are, what was said of each before anything is worked out, and what to be careful with."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Prefetch, Q, QuerySet, prefetch_related_objects
from django.utils import timezone

from inventory import models
from inventory.core.replanning import Turn
from inventory.models import Alloy, Plan, PlanPortion
from studio.kit.models import only_one

from .ledger import stands
from .plain import row_of

MOST_OPEN = 12


@dataclass(frozen=True)
class PartDraft:
    """Patterns of one kind on the tree, or its sprues: how many, and the mass of them all together."""

    label: str
    material: models.Material
    mass_mg: int
    count: int = 1
    is_piece: bool = True
    design: models.Design | None = None


@dataclass(frozen=True)
class DayDraft:
    """A firing that is planned: the wish is an aware moment."""

    kiln: models.Equipment
    schedule: models.Schedule
    wish: str
    wish_at: datetime
    standing_minutes: int
    turned: tuple[Turn, ...] = ()
    top_c: int | None = None


@dataclass(frozen=True)
class PlanDraft:
    """What a person says of a cast to come."""

    title: str
    alloy: models.Alloy
    flask: models.Equipment
    powder: models.Material
    parts: tuple[PartDraft, ...]
    day: DayDraft
    button_pct100: int
    owner: models.Customer | None = None
    crucible: models.Equipment | None = None
    machine: models.Equipment | None = None
    pump: models.Equipment | None = None
    tree_height_um: int | None = None
    tree_width_um: int | None = None
    note: str = ""


def draft_of_day(day: models.CastingDay) -> DayDraft:
    """A saved day as it was said and as it went so far. Its turns should have been read with it."""
    return DayDraft(
        day.kiln, day.schedule, day.wish, day.wish_at, day.standing_minutes, day.turned, day.top_c
    )


def draft_of(plan: models.Plan) -> PlanDraft:
    """A saved plan as it was said. Its day, parts and their materials should have been read with it."""
    day = plan.day
    return PlanDraft(
        title=plan.title,
        alloy=plan.alloy,
        flask=plan.flask,
        powder=plan.powder,
        parts=tuple(
            PartDraft(part.label, part.material, part.mass_mg, part.count, part.is_piece, part.design)
            for part in plan.parts.all()
        ),
        day=draft_of_day(day),
        button_pct100=plan.button_pct100,
        owner=plan.owner,
        crucible=plan.crucible,
        machine=plan.machine,
        pump=plan.pump,
        tree_height_um=plan.tree_height_um,
        tree_width_um=plan.tree_width_um,
        note=plan.note,
    )


def default_wish_at(now: datetime) -> datetime:
    """Half past six tomorrow evening, on the studio's clock."""
    return evening_of(timezone.localdate(now) + timedelta(days=1))


def evening_of(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 18, 30, tzinfo=timezone.get_current_timezone())


def plans() -> "QuerySet[models.Plan]":
    """Plans with what a line of a list shows."""
    return models.Plan.objects.select_related("alloy", "owner", "day__kiln", "day__schedule", "cast", "flask")


_ON_ITS_PAGE = (
    *("alloy", "owner", "day__kiln", "day__schedule", "day__firing", "cast"),
    *("flask", "crucible", "machine", "pump", "powder"),
)


def find_plan(pk: int) -> models.Plan | None:
    """A plan with everything that its page shows."""
    plan = row_of(models.Plan, pk, _ON_ITS_PAGE)
    if plan is not None:
        portions = models.PlanPortion.objects.select_related("lot__material", "lot__from_cast", "lot__holder")
        prefetch_related_objects(
            [plan],
            "day__schedule__steps",
            "day__turns",
            Prefetch("parts", models.PlanPart.objects.select_related("material", "design")),
            Prefetch("portions", portions),
        )
    return plan


def open_plans(most: int = MOST_OPEN) -> list[models.Plan]:
    """Plans that are neither begun nor given up, the one that is wished first at the top."""
    waiting = plans().filter(cast__isnull=True, dropped=False).order_by("day__wish_at", "id")
    return list(
        waiting.select_related("powder").prefetch_related("day__schedule__steps", "day__turns")[:most]
    )


def plan_of(cast: models.Cast) -> models.Plan | None:
    """The plan that a cast was begun from, with its portions and parts."""
    rows = models.Plan.objects.select_related("day__firing__kiln", "day__kiln").prefetch_related(
        Prefetch("portions", models.PlanPortion.objects.select_related("lot__material")),
        Prefetch("parts", models.PlanPart.objects.select_related("material", "design")),
    )
    return only_one(rows.filter(cast=cast))


def plan_ahead_of(cast: models.Cast, kind: str) -> models.Plan | None:
    """The plan of a cast whose step of this kind of entry has not been written down yet."""
    plan = plan_of(cast)
    if plan is None:
        return None
    if kind == models.Entry.Kind.TREE:
        # A part of the tree that came from no lot has no entry.
        is_done = cast.tree_parts.filter(void=False).exists()
    else:
        is_done = models.Entry.objects.filter(stands(), cast=cast, kind=kind).exists()
    return None if is_done else plan


def find_day(pk: int) -> models.CastingDay | None:
    """A casting day that another flask may be put into."""
    return only_one(models.CastingDay.objects.select_related("kiln", "schedule", "firing").filter(pk=pk))


def other_flasks(day: models.CastingDay, but: models.Plan | None = None) -> list[models.Plan]:
    """The other plans of a casting day that were not given up, in the order they were made."""
    found = day.plans.filter(dropped=False).select_related("alloy", "cast").order_by("id")
    return list(found.exclude(pk=but.pk) if but is not None else found)


def portions_for(plan: models.Plan, use: str) -> list[models.PlanPortion]:
    """What a plan means to take for one use; of a plan that was read with its portions it asks no more."""
    return [portion for portion in plan.portions.all() if portion.use == use]


ZINC = "Zn"


def melt_cautions(alloys: Iterable[int | None], has_unknown: bool = False) -> tuple[str, ...]:
    """The kinds of caution for a melt of these alloys (their ids); one query.

    Brass, bronze or gold whose composition nobody wrote down counts as holding zinc. `has_unknown` when some of the
    metal is of unknown make.
    """
    has_zinc = Q(parts__element=ZINC)
    not_written = Q(parts__isnull=True, metal__in=(Alloy.Metal.BASE, Alloy.Metal.GOLD))
    fumes = Alloy.objects.filter(has_zinc | not_written, pk__in={pk for pk in alloys if pk}).exists()
    # Scrap may hold brass or solder.
    return (*(("zinc",) if fumes or has_unknown else ()), *(("scrap",) if has_unknown else ()))


def plan_cautions(plans: Iterable[Plan]) -> tuple[str, ...]:
    """The same for plans that were read with their portions."""
    listed = list(plans)
    lots = [one.lot for plan in listed for one in portions_for(plan, PlanPortion.Use.METAL)]
    alloys = [*(plan.alloy_id for plan in listed), *(lot.material.alloy_id for lot in lots)]
    return melt_cautions(alloys, any(lot.is_of_unknown_make for lot in lots))
