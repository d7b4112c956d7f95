"""The tools that casts wear and the firings they share: how often each was used before.

Uses among them are counted here and not by the database, where each cast would look through all before it.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date

from django.db.models import Count, Q

from costing.core.use import CastUse, FiringUse, ToolUse
from costing.models import Policy
from inventory.core.energy import Energy
from inventory.core.powder import compute_flask_volume
from inventory.models import Cast, Equipment, Firing
from inventory.queries.firing import KilnRecords

TOOLS = ("flask", "crucible", "machine", "pump")


class Tools:
    """The equipment and firings of many casts, and what earlier ones had used of them, each read once."""

    def __init__(self, casts: Sequence[Cast]) -> None:
        self._firings = Firing.objects.in_bulk({cast.firing_id for cast in casts if cast.firing_id})
        kilns = {firing.kiln_id for firing in self._firings.values()}
        named = {getattr(cast, f"{name}_id") for cast in casts for name in TOOLS}
        self._equipment = Equipment.objects.in_bulk(kilns | (named - {None}))
        for firing in self._firings.values():
            firing.kiln = self._equipment[firing.kiln_id]
        self._uses_before: dict[tuple[int, str], int] = {}
        self._minutes_before: dict[int, int] = {}
        self._energy: dict[int, Energy] = {}
        self._mates: dict[int, list[tuple[int, int]]] = {pk: [] for pk in self._firings}
        if casts:
            self._count_uses({cast.pk for cast in casts}, [cast.day for cast in casts])
        if self._firings:
            self._follow_kilns(kilns)
            self._gather_mates()

    def use_of(self, cast: Cast, policy: Policy) -> CastUse:
        tools = [(getattr(cast, f"{name}_id"), self._uses_before[cast.pk, name]) for name in TOOLS]
        uses = tuple(make_tool_use(self._equipment[tool], before, 1) for tool, before in tools if tool)
        return CastUse(self._firing_use(cast, policy), uses)

    def _count_uses(self, wanted: set[int], days: list[date]) -> None:
        """How many closed casts used the same tool before, by day and then in the order they were begun.

        What was before their first day the database counts.
        """
        counts = Counter(count_uses(self._equipment, min(days)))
        since = Cast.objects.filter(closed_on__isnull=False, day__range=(min(days), max(days)))
        for pk, *tools in since.order_by("day", "pk").values_list("pk", *(f"{name}_id" for name in TOOLS)):
            for name, tool in zip(TOOLS, tools, strict=True):
                if pk in wanted:
                    self._uses_before[pk, name] = counts[name, tool]
                counts[name, tool] += 1

    def _follow_kilns(self, kilns: set[int]) -> None:
        """The energy of each firing, and the minutes that its kiln had run before."""
        days = [firing.day for firing in self._firings.values()]
        records = KilnRecords(kilns, max(days), min(days))
        for pk, firing in self._firings.items():
            self._energy[pk] = records.energy_of(firing)
            self._minutes_before[pk] = records.minutes_before(firing.kiln_id, (firing.day, pk))

    def _gather_mates(self) -> None:
        """For each firing, (cast id, flask volume in thousandths of a millilitre) of every cast in it."""
        rows = Cast.objects.filter(firing__in=list(self._mates)).order_by("number")
        for firing, cast, diameter, height in rows.values_list(
            "firing_id", "pk", "flask__diameter_um", "flask__height_um"
        ):
            volume = compute_flask_volume(diameter, height) if diameter and height else 0
            self._mates[firing or 0].append((cast, volume))

    def _firing_use(self, cast: Cast, policy: Policy) -> FiringUse | None:
        if cast.firing_id is None:
            return None
        firing = self._firings[cast.firing_id]
        mates = self._mates[firing.pk]
        return FiringUse(
            energy=self._energy[firing.pk],
            energy_micro_per_kwh=policy.energy_micro_per_kwh,
            kiln=make_tool_use(firing.kiln, self._minutes_before[firing.pk], firing.minutes),
            flask_volumes_ul=tuple(volume for _, volume in mates),
            which=next(place for place, (pk, _) in enumerate(mates) if pk == cast.pk),
        )


def count_uses(tools: Iterable[int], before: date) -> dict[tuple[str, int | None], int]:
    """How many closed casts of earlier days used each of these tools, by what it was used as. One query."""
    uses = {(name, tool): f"{name}_{tool}" for name in TOOLS for tool in tools}
    counts = {key: Count("pk", filter=Q(**{name: tool})) for (name, tool), key in uses.items()}
    found = Cast.objects.filter(closed_on__isnull=False, day__lt=before).aggregate(**counts)
    return {use: found[key] for use, key in uses.items()}


def make_tool_use(tool: Equipment, used_here: int, used_now: int) -> ToolUse:
    """A kiln's life is in hours and its use in minutes, so both are put in minutes."""
    per_use = 60 if tool.kind == Equipment.Kind.KILN else 1
    return ToolUse(
        label=f"{Equipment.Kind(tool.kind).label.capitalize()}, {tool.name}",
        unit="minutes" if per_use == 60 else tool.life_unit,
        price_micro=tool.price_micro,
        end_value_micro=tool.end_value_micro,
        life_uses=tool.life_uses * per_use if tool.life_uses else None,
        used_before=tool.uses_before * per_use + used_here,
        used_now=used_now,
    )
