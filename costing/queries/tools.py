"""The tools that casts wear and the firings they share: how often each was used before."""

from collections.abc import Iterable

from django.db.models import Count, IntegerField, OuterRef, Q, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from costing.core.use import FiringUse, ToolUse
from costing.models import Policy
from inventory.models import Cast, Equipment, Firing

TOOLS = ("flask", "crucible", "machine", "pump")


def _uses_before(tool: str) -> Coalesce:
    """How many poured casts used the same tool before this one, by day and then by number."""
    earlier = (
        Cast.objects.filter(Q(day__lt=OuterRef("day")) | Q(day=OuterRef("day"), pk__lt=OuterRef("pk")))
        .filter(**{tool: OuterRef(tool)}, closed_on__isnull=False)
        .order_by()
        .values(tool)
        .annotate(count=Count("pk"))
        .values("count")
    )
    return Coalesce(Subquery(earlier, output_field=IntegerField()), Value(0))


def _minutes_before() -> Coalesce:
    """Minutes that the kiln of the cast's firing had run before it."""
    firing = Firing.objects.filter(kiln=OuterRef("firing__kiln")).filter(
        Q(day__lt=OuterRef("firing__day")) | Q(day=OuterRef("firing__day"), pk__lt=OuterRef("firing"))
    )
    total = firing.order_by().values("kiln").annotate(total=Sum("minutes")).values("total")
    return Coalesce(Subquery(total, output_field=IntegerField()), Value(0))


def closed_casts(cast_ids: Iterable[int]) -> QuerySet[Cast]:
    before = {f"{tool}_before": _uses_before(tool) for tool in TOOLS}
    return (
        Cast.objects.filter(pk__in=list(cast_ids), closed_on__isnull=False)
        .select_related("alloy", "owner", "firing__kiln", *TOOLS)
        .annotate(**before, kiln_minutes_before=_minutes_before())
    )


def firing_use(cast: Cast, policy: Policy, mates: dict[int, list[tuple[int, int]]]) -> FiringUse | None:
    firing = cast.firing
    if firing is None:
        return None
    row = mates[firing.pk]
    return FiringUse(
        minutes=firing.minutes,
        meter_wh=(firing.meter_before_wh, firing.meter_after_wh),
        rated_w=firing.rated_w or firing.kiln.rated_w,
        share_on_pct100=firing.share_on_pct100 or firing.kiln.share_on_pct100,
        energy_micro_per_kwh=policy.energy_micro_per_kwh,
        kiln=_tool_use(firing.kiln, getattr(cast, "kiln_minutes_before", 0), firing.minutes),
        flask_volumes_ul=tuple(volume for _, volume in row),
        which=next(place for place, (pk, _) in enumerate(row) if pk == cast.pk),
    )


def _tool_use(tool: Equipment, used_here: int, used_now: int) -> ToolUse:
    """A kiln's life is in hours and its use in minutes, so both are put in minutes."""
    per_use = 60 if tool.kind == Equipment.Kind.KILN else 1
    return ToolUse(
        label=f"{tool.get_kind_display().capitalize()}, {tool.name}",
        unit="minutes" if per_use == 60 else tool.life_unit,
        price_micro=tool.price_micro,
        end_value_micro=tool.end_value_micro,
        life_uses=tool.life_uses * per_use if tool.life_uses else None,
        used_before=tool.uses_before * per_use + used_here,
        used_now=used_now,
    )


def tool_uses(cast: Cast) -> list[ToolUse]:
    tools = [(getattr(cast, name), getattr(cast, f"{name}_before")) for name in TOOLS]
    return [_tool_use(tool, before, 1) for tool, before in tools if tool is not None]
