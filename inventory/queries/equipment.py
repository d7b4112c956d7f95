"""Reads of equipment: how much each tool was used so far."""

from dataclasses import dataclass
from typing import Any

from django.db.models import (
    Aggregate,
    Case,
    Count,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
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
    poured = Cast.objects.filter(USED)
    cases = [When(kind=kind, then=_total(poured, kind, Count("pk"))) for kind in TOOLS]
    used = Case(*cases, default=_total(Firing.objects.all(), "kiln", Sum("minutes")))
    return Equipment.objects.annotate(recorded=Coalesce(used, Value(0), output_field=IntegerField()))


def _total(rows: "QuerySet[Any]", tool: str, total: Aggregate) -> Subquery:
    """What the rows that name a tool come to."""
    own = rows.filter(**{tool: OuterRef("pk")}).order_by().values(tool)
    return Subquery(own.annotate(total=total).values("total"), output_field=IntegerField())


def use_of(tool: Equipment) -> Use:
    """The use of a tool read through `equipment_with_use`."""
    recorded = getattr(tool, "recorded", 0)
    if tool.kind == Equipment.Kind.KILN:
        recorded //= MINUTES_PER_HOUR
    return Use(tool.uses_before + recorded, tool.life_uses or None, tool.life_unit)
