"""Reads of equipment: how much each tool was used so far."""

from dataclasses import dataclass

from django.db.models import Case, Count, IntegerField, OuterRef, Q, QuerySet, Subquery, Sum, Value, When
from django.db.models.functions import Coalesce

from inventory.models import Cast, Equipment, Firing
from studio.kit.units import MINUTES_PER_HOUR

NEAR_END_TENTHS = 9
#: What a cast wears, by the names of its fields, which are the kinds of equipment.
TOOLS = tuple(
    kind.value
    for kind in (Equipment.Kind.FLASK, Equipment.Kind.CRUCIBLE, Equipment.Kind.MACHINE, Equipment.Kind.PUMP)
)
#: The casts that wore their tools: metal has been in them, whether or not the weights are in.
USED = Q(poured=True)


@dataclass(frozen=True, slots=True)
class Use:
    """How often a tool was used, in the unit of its life: hours, melts or casts. `life` is None when not known."""

    used: int
    life: int | None
    unit: str

    @property
    def is_over(self) -> bool:
        return self.life is not None and self.used > self.life

    @property
    def is_near_end(self) -> bool:
        """Nine tenths of its life or more are used."""
        return self.life is not None and self.used * 10 >= self.life * NEAR_END_TENTHS


def equipment_with_use() -> QuerySet[Equipment]:
    """Equipment with `recorded`: minutes of a kiln's firings, or poured casts of any other tool."""
    cases = [When(kind=kind, then=_count_casts(kind)) for kind in TOOLS]
    minutes = (
        Firing.objects.filter(kiln=OuterRef("pk"))
        .order_by()
        .values("kiln")
        .annotate(total=Sum("minutes"))
        .values("total")
    )
    return Equipment.objects.annotate(
        recorded=Coalesce(
            Case(*cases, default=Subquery(minutes, output_field=IntegerField())),
            Value(0),
            output_field=IntegerField(),
        )
    )


def _count_casts(tool: str) -> Subquery:
    casts = (
        Cast.objects.filter(USED, **{tool: OuterRef("pk")})
        .order_by()
        .values(tool)
        .annotate(count=Count("pk"))
        .values("count")
    )
    return Subquery(casts, output_field=IntegerField())


def use_of(tool: Equipment) -> Use:
    """The use of a tool read through `equipment_with_use`."""
    recorded = getattr(tool, "recorded", 0)
    if tool.kind == Equipment.Kind.KILN:
        recorded //= MINUTES_PER_HOUR
    return Use(tool.uses_before + recorded, tool.life_uses or None, tool.life_unit)
