"""Writing of the set-up's records where more than their own row is written."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import TypeVar

from django.db import transaction
from django.db.models import F, Model, QuerySet

from inventory.core.schedule import ScheduleStep
from inventory.core.starters import StarterAlloy, StarterLine, StarterMaterial, StarterSchedule
from inventory.models import (
    Alloy,
    AlloyPart,
    Cast,
    CastingDay,
    ChecklistItem,
    Firing,
    Material,
    Schedule,
    Studio,
)
from inventory.models import ScheduleStep as StoredStep
from inventory.queries.plain import plain_rows
from inventory.queries.studio import days_to_come

from .refusal import Refused

M = TypeVar("M", bound=Model)
_STORED = ("target_c", "climb_minutes", "climb_c_per_hour", "hold_minutes")


def begin_studio(name: str, currency: str) -> Studio:
    """Raises IntegrityError when another studio was set up a moment ago."""
    return Studio.objects.create(pk=1, name=name, currency=currency)


def find_or_write(model: type[M], name: str) -> M:
    """The record of this name, written down now when it is new. Upper and lower case do not make another one."""
    rows = model._default_manager
    return rows.filter(name__iexact=name).first() or rows.get_or_create(name=name)[0]


def renew_days(days: "QuerySet[CastingDay]") -> None:
    """Calendars take in what changed of a day to come only when its revision has grown."""
    CastingDay.objects.filter(pk__in=days.order_by().values("pk")).update(revision=F("revision") + 1)


@transaction.atomic
def write_composition(alloy: Alloy, parts: Mapping[str, int]) -> None:
    """Give a saved alloy its composition, parts of 10000 by element."""
    alloy.parts.all().delete()
    AlloyPart.objects.bulk_create(
        AlloyPart(alloy=alloy, element=symbol, per_10000=share) for symbol, share in parts.items()
    )
    renew_days(days_to_come().filter(plans__alloy=alloy))


@transaction.atomic
def write_steps(
    schedule: Schedule, steps: Iterable[ScheduleStep], shares_on_pct100: Iterable[int | None] = ()
) -> None:
    """Give a saved schedule its steps; without shares, each takes the kiln's own."""
    listed = list(steps)
    shares = list(shares_on_pct100) or [None] * len(listed)
    before = list(schedule.steps.values_list(*_STORED))
    schedule.steps.all().delete()
    StoredStep.objects.bulk_create(
        StoredStep(
            schedule=schedule,
            place=place,
            label=step.label,
            target_c=step.target_c,
            climb_minutes=step.climb_minutes,
            climb_c_per_hour=step.climb_c_per_hour,
            hold_minutes=step.hold_minutes,
            on_pct100=share,
        )
        for place, (step, share) in enumerate(zip(listed, shares, strict=True))
    )
    if before and before != list(schedule.steps.values_list(*_STORED)):
        renew_days(days_to_come().filter(schedule=schedule))


def put_in_firing(firing: Firing, casts: Collection[Cast]) -> None:
    """Say which casts stood in a firing: these and no others."""
    now, before = {cast.pk for cast in casts}, {*firing.casts.values_list("pk", flat=True)}
    Cast.objects.filter(pk__in=before - now).update(firing=None)
    Cast.objects.filter(pk__in=now).update(firing=firing)
    fire_days(now | before)


def fire_days(casts: Collection[int]) -> None:
    """A casting day was fired as its casts were: by the firing that began at its own kiln, else by one in which one of
    these casts, by their keys, stands. Then its times stand."""
    for day in CastingDay.objects.filter(plans__cast__in=casts).select_related("firing").distinct():
        begun_at = day.firing.begun_at if day.firing else None
        if begun_at is not None and day.turns.filter(place=0, at=begun_at).exists():
            continue
        stand_in = Cast.objects.filter(plan__day=day, firing__isnull=False).order_by("number")
        firings = list(stand_in.values_list("firing", flat=True))
        if day.firing_id not in firings:
            CastingDay.objects.filter(pk=day.pk).update(firing=firings[0] if firings else None)


def begin_checklist(lines: Iterable[StarterLine]) -> None:
    ChecklistItem.objects.bulk_create(
        ChecklistItem(text=line.text, when=line.when, place=place)
        for place, line in enumerate(lines, start=1)
    )


def order_checklist(lines: Sequence[ChecklistItem]) -> None:
    """Keep the lines in this order."""
    for place, line in enumerate(lines, start=1):
        line.place = place
    ChecklistItem.objects.bulk_update(lines, ["place"])


def find_last_place() -> int:
    """The place of the last line of the checklist; 0 where it is empty."""
    last = ChecklistItem.objects.order_by("-place").first()
    return last.place if last else 0


def add_alloy(starter: StarterAlloy, with_grain: bool) -> None:
    alloy = Alloy.objects.create(
        name=starter.name,
        metal=starter.metal,
        fineness=starter.fineness,
        density_mg_cm3=starter.density_mg_cm3,
        density_note=starter.density_note,
        heat_note=starter.heat_note,
        quench_minutes=starter.quench_minutes,
        **asdict(starter.heats),
    )
    write_composition(alloy, starter.parts)
    if with_grain:
        Material.objects.get_or_create(
            name=f"{starter.name} grain",
            defaults={"kind": Material.Kind.METAL, "alloy": alloy, "form": Material.Form.GRAIN},
        )


def reclaim_material(alloy: Alloy) -> Material:
    """The material that metal recovered from this alloy belongs to, made the first time it is needed."""
    # With the word itself in the statement SQLite takes the index of reclaim, which has one row of an alloy.
    of_alloy = f"WHERE alloy_id = %(alloy)s AND form = '{Material.Form.RECLAIM.value}'"
    for material in plain_rows(Material, of_alloy, {"alloy": alloy.pk}):
        material.alloy = alloy
        return material
    name = f"{alloy.name}, reclaimed"
    if Material.objects.filter(name=name).exists():
        name = f"{alloy.name}, from our own casts"
    return Material.objects.create(
        name=name, kind=Material.Kind.METAL, alloy=alloy, form=Material.Form.RECLAIM
    )


#: What a mixed alloy of a metal is written down with: its fineness and density stand for no lot, each has its own.
_NOMINAL = {
    "silver": (800, 10_200),
    "gold": (585, 13_000),
    "platinum": (900, 19_000),
    "palladium": (900, 11_500),
}


def mixed_alloy(metal: str) -> Alloy:
    """The alloy that metal of no alloy's fineness belongs to, made the first time it is needed."""
    found = Alloy.objects.filter(metal=metal, is_mixed=True).first()
    if found is not None:
        return found
    name = f"Mixed {Alloy.Metal(metal).label}"
    if Alloy.objects.filter(name=name).exists():
        name = f"{name}, of unknown fineness"
    fineness, density_mg_cm3 = _NOMINAL[metal]
    return Alloy.objects.create(
        name=name,
        metal=metal,
        fineness=fineness,
        density_mg_cm3=density_mg_cm3,
        density_note="nominal: mixed metal has no density of its own",
        is_mixed=True,
    )


def mixed_material(material: Material) -> Material:
    """What metal like this one is kept as when it is of no alloy's fineness. Raises Refused for what has none."""
    alloy = material.alloy
    if alloy is None or not alloy.fineness:
        raise Refused(f"{material} has no precious metal: its fineness is not asked for.", "guess")
    mixed = mixed_alloy(alloy.metal)
    if alloy.is_mixed:
        return material
    if material.form == Material.Form.RECLAIM:
        return reclaim_material(mixed)
    word = Material.Form(material.form).label
    return Material.objects.get_or_create(
        alloy=mixed, form=material.form, kind=Material.Kind.METAL, defaults={"name": f"{mixed.name}, {word}"}
    )[0]


def scrap_material(material: Material) -> Material:
    """What jewellery and scrap of the same alloy is kept as, made the first time it is needed."""
    alloy, form = material.alloy, Material.Form.SCRAP
    if alloy is None or material.form in (form, Material.Form.RECLAIM):
        return material
    found = Material.objects.filter(alloy=alloy, form=form, kind=Material.Kind.METAL).order_by("pk").first()
    name = f"{alloy.name}, old metal"
    if Material.objects.filter(name=name).exists():
        name = f"{alloy.name}, jewellery and scrap"
    return found or Material.objects.create(name=name, kind=Material.Kind.METAL, alloy=alloy, form=form)


def add_material(starter: StarterMaterial) -> None:
    Material.objects.create(
        name=starter.name,
        kind=starter.kind,
        density_mg_cm3=starter.density_mg_cm3,
        water_per_100_tenths=starter.water_per_100_tenths,
        shelf_life_days=starter.shelf_life_days,
        opened_life_days=starter.opened_life_days,
        slurry_mg_cm3=starter.slurry_mg_cm3,
        working_minutes=starter.working_minutes,
        most_c=starter.most_c,
    )


def add_schedule(starter: StarterSchedule) -> None:
    powder = Material.objects.filter(kind=Material.Kind.POWDER, name=starter.powder).first()
    pattern = Material.objects.filter(kind=Material.Kind.PATTERN, name=starter.pattern).first()
    # Without its resin it would pass for one that suits wax: without a width no plan chooses it by itself.
    is_known = pattern is not None or not starter.pattern
    schedule = Schedule.objects.create(
        name=starter.name,
        powder=powder,
        pattern=pattern,
        largest_diameter_um=starter.largest_diameter_um if is_known else None,
        note=starter.note,
    )
    write_steps(schedule, starter.steps)
