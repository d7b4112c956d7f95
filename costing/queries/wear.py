"""What casts wore and plans will wear: the tools and firings of each, how often they were used before, and the time.

Read once for all that are asked about. Uses among them are counted here and not by the database, where each cast would
look through all before it. A tool is used by every cast that was poured, closed or not: its own page counts the same.
"""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from typing import Any

from django.db.models import Count, Q, QuerySet, Sum
from django.utils import timezone

from costing.core.estimate import BenchMeans, compute_bench_means
from costing.core.wear import CastUse, FiringUse, ToolUse
from costing.models import Policy
from inventory.core.energy import Energy
from inventory.core.powder import compute_flask_volume
from inventory.models import BenchTime, Cast, Equipment, Piece, Plan
from inventory.queries.casting import PAST_CASTS
from inventory.queries.days import read_days
from inventory.queries.equipment import TOOLS, USED
from inventory.queries.firing import MUCH_LATER, ExpectedFiring, KilnRecords, Moment, expect_firing
from inventory.queries.studio import current_practice

Flask = tuple[int, int]
"""A cast or a plan by its id, and the volume of its flask in thousandths of a millilitre."""


class ToolUses:
    """The uses of some tools on some days, after as many as there were before; and which casts were closed then."""

    def __init__(self, tools: Iterable[int | None], days: Sequence[date]) -> None:
        self._before = count_uses({tool for tool in tools if tool}, min(days))
        self._since: dict[tuple[str, int], list[Moment]] = defaultdict(list)
        self.closed: list[Moment] = []
        rows = Cast.objects.filter(USED, day__range=(min(days), max(days))).order_by("day", "pk")
        columns = ("day", "pk", "closed_on", *(f"{name}_id" for name in TOOLS))
        for day, pk, closed_on, *used in rows.values_list(*columns):
            if closed_on:
                self.closed.append((day, pk))
            for name, tool in zip(TOOLS, used, strict=True):
                self._since[name, tool].append((day, pk))

    def wear_of(self, used: Any, before: Moment) -> Iterator[ToolUse]:
        """One use of each tool of a cast or a plan, by how often it was used before a moment."""
        for name in TOOLS:
            tool: Equipment | None = getattr(used, name)
            if tool is not None:
                since = bisect_left(self._since[name, tool.pk], before)
                yield make_tool_use(tool, self._before[name, tool.pk] + since, 1)


class CastWear:
    """The tools of many casts, which this gives them, and their firings, which come with them."""

    def __init__(self, casts: Sequence[Cast]) -> None:
        self._firings = {cast.firing.pk: cast.firing for cast in casts if cast.firing is not None}
        kilns = {firing.kiln_id for firing in self._firings.values()}
        named = {getattr(cast, f"{name}_id") for cast in casts for name in TOOLS}
        equipment = Equipment.objects.order_by().in_bulk(kilns | (named - {None}))
        for cast in casts:
            if cast.firing is not None:
                cast.firing.kiln = equipment[cast.firing.kiln_id]
            for name in TOOLS:
                setattr(cast, name, equipment.get(getattr(cast, f"{name}_id")))
        if casts:
            self._uses = ToolUses(named, [cast.day for cast in casts])
        if self._firings:
            days = [firing.day for firing in self._firings.values()]
            self._kilns = KilnRecords(kilns, max(days), min(days))
            self._flasks = _flasks_by("firing", Cast.objects.filter(firing__in=list(self._firings)), "number")

    def use_of(self, cast: Cast, policy: Policy) -> CastUse:
        return CastUse(self._firing_use(cast, policy), tuple(self._uses.wear_of(cast, (cast.day, cast.pk))))

    def _firing_use(self, cast: Cast, policy: Policy) -> FiringUse | None:
        if cast.firing_id is None:
            return None
        firing = self._firings[cast.firing_id]
        ran = self._kilns.minutes_before(firing.kiln_id, (firing.day, firing.pk))
        kiln = make_tool_use(firing.kiln, ran, firing.minutes or 0)
        flasks = self._flasks[firing.pk]
        return _share_firing(self._kilns.energy_of(firing), policy, kiln, flasks, cast.pk)


class PlannedUses:
    """The kilns, tools and bench time of many plans. Plans come with their day, tools and cast."""

    def __init__(self, plans: Sequence[Plan]) -> None:
        self._practice = current_practice()
        days = [day_of(plan) for plan in plans] or [timezone.localdate()]
        # A plan's firing may stand on an earlier day than its cast.
        fired = [plan.cast.firing.day for plan in plans if plan.cast and plan.cast.firing]
        self._kilns = KilnRecords({plan.day.kiln_id for plan in plans}, max(days), min(days + fired))
        self._dropped = {plan.pk for plan in plans if plan.dropped}
        shown = Q(dropped=False) | Q(pk__in=self._dropped)
        on_days = Plan.objects.filter(shown, day__in={plan.day_id for plan in plans})
        self._flasks = _flasks_by("day", on_days, "pk")
        self._queues = {day: sheet.queue_minutes for day, sheet in read_days(self._days_in_turn()).items()}
        self._uses = ToolUses({getattr(plan, f"{name}_id") for plan in plans for name in TOOLS}, days)
        earlier = Cast.objects.filter(closed_on__isnull=False, day__lt=min(days)).order_by("-day", "-pk")
        latest = list(earlier.values_list("day", "pk")[:PAST_CASTS])
        self._casts = latest[::-1] + self._uses.closed
        self._minutes: dict[int, tuple[int, int]] = {}
        self._pieces: dict[int, int] = {}
        self._gather_time({pk for plan in plans for pk in self._last_casts(plan)})

    def _days_in_turn(self) -> list[int]:
        """Those of several flasks that stand in the kiln: it holds until the last of them is poured."""
        return [
            day
            for day, flasks in self._flasks.items()
            if sum(pk not in self._dropped for pk, _ in flasks) > 1
        ]

    def firing_of(self, plan: Plan) -> ExpectedFiring:
        """Minutes and energy of the firing, by what was known before it."""
        return expect_firing(
            plan.day.kiln,
            plan.day.schedule,
            self._kilns,
            self._practice,
            _before_firing(plan),
            self._queues.get(plan.day_id, 0),
        )

    def use_of(self, plan: Plan, firing: ExpectedFiring, policy: Policy) -> CastUse:
        ran = self._kilns.minutes_before(plan.day.kiln_id, _before_firing(plan))
        kiln = make_tool_use(plan.day.kiln, ran, firing.minutes)
        # A plan that was given up is in no kiln, but is told what it would have cost among the others.
        flasks = [flask for flask in self._flasks[plan.day_id] if flask[0] not in self._dropped - {plan.pk}]
        shared = _share_firing(firing.energy, policy, kiln, flasks, plan.pk)
        return CastUse(shared, tuple(self._uses.wear_of(plan, _before_cast(plan))))

    def bench_of(self, plan: Plan) -> BenchMeans:
        """The mean of the last closed casts before the plan's own."""
        casts = self._last_casts(plan)
        minutes = [self._minutes.get(pk, (0, 0)) for pk in casts]
        return compute_bench_means(
            len(casts),
            sum(on_cast for on_cast, _ in minutes),
            sum(self._pieces.get(pk, 0) for pk in casts),
            sum(on_pieces for _, on_pieces in minutes),
        )

    def _last_casts(self, plan: Plan) -> list[int]:
        end = bisect_left(self._casts, _before_cast(plan))
        return [pk for _, pk in self._casts[max(end - PAST_CASTS, 0) : end]]

    def _gather_time(self, casts: set[int]) -> None:
        """Minutes at the bench on each cast as a whole and on its pieces, and how many pieces it has."""
        rows = BenchTime.objects.filter(cast__in=casts).order_by().values_list("cast_id")
        for pk, on_cast, on_pieces in rows.annotate(
            on_cast=Sum("minutes", filter=Q(piece__isnull=True, basis=""), default=0),
            on_pieces=Sum("minutes", filter=Q(piece__isnull=False) | ~Q(basis=""), default=0),
        ):
            self._minutes[pk] = (on_cast, on_pieces)
        pieces = Piece.objects.filter(cast__in=casts, void=False).order_by().values_list("cast_id")
        self._pieces = dict(pieces.annotate(count=Count("pk")))


def day_of(plan: Plan) -> date:
    """The day of a plan: its cast's once that has begun."""
    return plan.cast.day if plan.cast is not None else timezone.localdate(plan.day.wish_at)


def _before_cast(plan: Plan) -> Moment:
    """Before the plan's own cast; while it has none, after all of its day."""
    return (day_of(plan), plan.cast_id or MUCH_LATER)


def _before_firing(plan: Plan) -> Moment:
    firing = plan.cast.firing if plan.cast is not None else None
    return (day_of(plan), MUCH_LATER) if firing is None else (firing.day, firing.pk)


def count_uses(tools: Iterable[int], before: date) -> dict[tuple[str, int], int]:
    """How many casts of earlier days used each of these tools, by what it was used as. One query."""
    uses = {(name, tool): f"{name}_{tool}" for name in TOOLS for tool in tools}
    counts = {key: Count("pk", filter=Q(**{name: tool})) for (name, tool), key in uses.items()}
    found = Cast.objects.filter(USED, day__lt=before).aggregate(**counts)
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


def _flasks_by(together: str, rows: QuerySet[Any], order: str) -> dict[int, list[Flask]]:
    """The flasks of casts or plans by the firing or the day that they stand in together."""
    found: dict[int, list[Flask]] = defaultdict(list)
    columns = (f"{together}_id", "pk", "flask__diameter_um", "flask__height_um")
    for group, pk, diameter, height in rows.order_by(order).values_list(*columns):
        volume_ul = compute_flask_volume(diameter, height) if diameter and height else 0
        found[group].append((pk, volume_ul))
    return found


def _share_firing(
    energy: Energy, policy: Policy, kiln: ToolUse, flasks: Sequence[Flask], own: int
) -> FiringUse:
    return FiringUse(
        energy=energy,
        energy_micro_per_kwh=policy.energy_micro_per_kwh,
        kiln=kiln,
        flask_volumes_ul=tuple(volume_ul for _, volume_ul in flasks),
        which=next(place for place, (pk, _) in enumerate(flasks) if pk == own),
    )
