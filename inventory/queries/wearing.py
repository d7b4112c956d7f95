"""Reads of what wears: how much each part was used since it was new, and by when another must be ordered."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, Prefetch, QuerySet, Sum

from inventory.core.wearing import WATCHED_DAYS, WearOutlook, Worn, compute_wear_out
from inventory.models import Cast, Equipment, Firing, Replacement, WearingPart
from studio.kit.units import MINUTES_PER_HOUR

from .equipment import TOOLS, USED, use_of

By = WearingPart.CountedBy
_Uses = dict[int | None, list[tuple[date, int]]]


#: What another takes to come, where nobody wrote it down.
LEAD_DAYS = 7


@dataclass(frozen=True)
class WornThing:
    """A part, or a tool whose life is known, and how long it lasts."""

    thing: WearingPart | Equipment
    outlook: WearOutlook

    unit: str


def parts_that_wear() -> QuerySet[WearingPart]:
    """Every part with its machine and what was replaced of it, the newest first."""
    replaced = Prefetch("replacements", Replacement.objects.order_by("-day", "-pk"))
    return WearingPart.objects.select_related("equipment").prefetch_related(replaced).order_by("name")


def wearing_outlook(today: date) -> list[WornThing]:
    """Each part and tool in use whose life is known, the one that must be ordered first at the top.

    At most six queries, whatever their number.
    """
    parts = list(parts_that_wear().filter(archived=False))
    tools = list(Equipment.objects.filter(life_uses__gt=0))
    if not parts and not tools:
        return []
    _count_uses(tools)
    uses = _read_uses(parts, today, bool(tools))
    worn: list[tuple[WearingPart | Equipment, Worn]] = [(part, _worn(part, uses, today)) for part in parts]
    worn += [(tool, _worn_tool(tool, tools, uses, today)) for tool in tools if not tool.archived]
    found = [WornThing(thing, compute_wear_out(one), one.unit) for thing, one in worn]
    return sorted(found, key=lambda one: (one.outlook.order_by or date.max, str(one.thing)))


def _count_uses(tools: Sequence[Equipment]) -> None:
    """Give each what `use_of` reads. All are counted at once: one question for each would be dearer."""
    recorded: dict[int, int] = defaultdict(int)
    if tools:
        casts = Cast.objects.filter(USED).order_by().values_list(Count("pk"), *TOOLS)
        for many, *used in casts:
            for key in {*used} - {None}:
                recorded[key] += many
        for minutes, kiln in Firing.objects.order_by().values_list(Sum("minutes"), "kiln"):
            recorded[kiln] = minutes or 0
    for tool in tools:
        tool.recorded = recorded[tool.pk]  # type: ignore[attr-defined]  # as `equipment_with_use` annotates it


def look_at_part(part: WearingPart, today: date) -> WearOutlook:
    """The same of one part."""
    return compute_wear_out(_worn(part, _read_uses([part], today), today))


def _worn_tool(tool: Equipment, tools: Sequence[Equipment], uses: dict[str, _Uses], today: date) -> Worn:
    """A tool was replaced when one like it was put away."""
    use = use_of(tool)
    days = max(min((today - tool.bought_on).days if tool.bought_on else WATCHED_DAYS, WATCHED_DAYS), 1)
    counted_by = By.HOURS if tool.kind == Equipment.Kind.KILN else By.CASTS
    alike = (tool.kind, tool.crucible_material, tool.capacity_mg)
    return Worn(
        used=use.used,
        life=use.life or 0,
        unit=use.unit,
        recent=_count(counted_by, tool.pk, uses, today - timedelta(days=days), today),
        days=days,
        lead_days=LEAD_DAYS,
        today=today,
        lives=[
            use_of(one).used
            for one in tools
            if one.archived and (one.kind, one.crucible_material, one.capacity_mg) == alike
        ],
    )


def _worn(part: WearingPart, uses: dict[str, _Uses], today: date) -> Worn:
    replaced = list(part.replacements.all())
    days = max(min((today - part.new_on).days, WATCHED_DAYS), 1)
    return Worn(
        used=_count_of(part, uses, part.new_on, today),
        life=part.life,
        unit=part.counted_by,
        recent=_count_of(part, uses, today - timedelta(days=days), today),
        days=days,
        lead_days=part.lead_days,
        today=today,
        lives=[one.used for one in replaced if one.was_worn_out],
    )


def used_by(part: WearingPart, day: date) -> int:
    """How much a part was used since it was new until a day, in the unit of its life. At most one query."""
    return _count_of(part, _read_uses([part], day), part.new_on, day)


def _count_of(part: WearingPart, uses: dict[str, _Uses], since: date, until: date) -> int:
    if part.counted_by == By.DAYS:
        return (until - since).days
    return _count(part.counted_by, part.equipment_id, uses, since, until)


def _count(counted_by: str, equipment: int | None, uses: dict[str, _Uses], since: date, until: date) -> int:
    amount = sum(many for day, many in uses[counted_by][equipment] if since <= day <= until)
    return amount // MINUTES_PER_HOUR if counted_by == By.HOURS else amount


def _read_uses(parts: Iterable[WearingPart], today: date, of_tools: bool = False) -> dict[str, _Uses]:
    """Minutes of firings and numbers of casts by day, of each machine and, under None, of all."""
    uses: dict[str, _Uses] = {By.HOURS: defaultdict(list), By.CASTS: defaultdict(list)}
    watched = today - timedelta(days=WATCHED_DAYS)
    asked: dict[str, list[date]] = {kind: [watched] * of_tools for kind in uses}
    for part in parts:
        if part.counted_by in asked:
            asked[part.counted_by] += [part.new_on, watched]
    if asked[By.HOURS]:
        firings = Firing.objects.filter(day__gte=min(asked[By.HOURS])).order_by()
        for kiln, day, minutes in firings.values_list("kiln", "day", "minutes"):
            for key in (kiln, None):
                uses[By.HOURS][key].append((day, minutes or 0))
    if asked[By.CASTS]:
        casts = Cast.objects.filter(USED, day__gte=min(asked[By.CASTS])).order_by()
        for day, *tools, many in casts.values_list("day", *TOOLS).annotate(Count("pk")):
            for key in {*tools, None}:
                uses[By.CASTS][key].append((day, many))
    return uses
