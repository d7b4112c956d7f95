"""What plans will use of kilns, tools and time: how often each was used before, and what a firing takes.

Read once for all plans that are asked about, so that the number of queries does not depend on how many they are.
"""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from django.db.models import Count, Q, Sum
from django.utils import timezone

from costing.core.estimate import BenchMeans, compute_bench_means
from costing.core.use import CastUse, FiringUse, ToolUse
from costing.models import Policy
from inventory.core.powder import compute_flask_volume
from inventory.models import BenchTime, Cast, Equipment, Piece, Plan
from inventory.queries.casting import PAST_CASTS
from inventory.queries.firing import MUCH_LATER, ExpectedFiring, KilnRecords, Moment, expect_firing
from inventory.queries.studio import current_practice

from .tools import TOOLS, count_uses, make_tool_use


def day_of(plan: Plan) -> date:
    """The day of a plan: its cast's once that has begun."""
    return plan.cast.day if plan.cast is not None else timezone.localdate(plan.day.wish_at)


class PlannedUses:
    """The kilns, tools and bench time of many plans. Plans come with their day, tools and cast."""

    def __init__(self, plans: Sequence[Plan]) -> None:
        self._practice = current_practice()
        days = [day_of(plan) for plan in plans] or [timezone.localdate()]
        # A plan's firing may stand on an earlier day than its cast.
        fired = [plan.cast.firing.day for plan in plans if plan.cast and plan.cast.firing]
        self._kilns = KilnRecords({plan.day.kiln_id for plan in plans}, max(days), min(days + fired))
        self._mates: dict[int, list[tuple[int, bool, int]]] = defaultdict(list)
        self._gather_mates({plan.day_id for plan in plans})
        self._casts: list[Moment] = []
        self._used: dict[tuple[str, int], list[Moment]] = defaultdict(list)
        named = {getattr(plan, f"{name}_id") for plan in plans for name in TOOLS}
        self._uses_before = count_uses(named - {None}, min(days))
        self._gather_casts(min(days), max(days))
        self._minutes: dict[int, tuple[int, int]] = {}
        self._pieces: dict[int, int] = {}
        self._gather_time({pk for plan in plans for pk in self._last_casts(plan)})

    def firing_of(self, plan: Plan) -> ExpectedFiring:
        """Minutes and energy of the firing, by what was known before it."""
        return expect_firing(
            plan.day.kiln, plan.day.schedule, self._kilns, self._practice, self._before_firing(plan)
        )

    def use_of(self, plan: Plan, firing: ExpectedFiring, policy: Policy) -> CastUse:
        ran = self._kilns.minutes_before(plan.day.kiln_id, self._before_firing(plan))
        mates = [mate for mate in self._mates[plan.day_id] if not mate[1] or mate[0] == plan.pk]
        shared = FiringUse(
            energy=firing.energy,
            energy_micro_per_kwh=policy.energy_micro_per_kwh,
            kiln=make_tool_use(plan.day.kiln, ran, firing.minutes),
            flask_volumes_ul=tuple(volume for *_, volume in mates),
            which=next(place for place, mate in enumerate(mates) if mate[0] == plan.pk),
        )
        return CastUse(shared, tuple(self._tool_uses(plan)))

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

    def _tool_uses(self, plan: Plan) -> list[ToolUse]:
        uses = []
        for name in TOOLS:
            tool: Equipment | None = getattr(plan, name)
            if tool is not None:
                before = bisect_left(self._used[name, tool.pk], _before_cast(plan))
                uses.append(make_tool_use(tool, self._uses_before[name, tool.pk] + before, 1))
        return uses

    def _before_firing(self, plan: Plan) -> Moment:
        firing = plan.cast.firing if plan.cast is not None else None
        return (day_of(plan), MUCH_LATER) if firing is None else (firing.day, firing.pk)

    def _last_casts(self, plan: Plan) -> list[int]:
        end = bisect_left(self._casts, _before_cast(plan))
        return [pk for _, pk in self._casts[max(end - PAST_CASTS, 0) : end]]

    def _gather_mates(self, days: set[int]) -> None:
        """For each casting day (plan, whether it was dropped, flask volume) of every flask planned for it."""
        rows = Plan.objects.filter(day__in=days).order_by("pk")
        for day, pk, dropped, diameter, height in rows.values_list(
            "day_id", "pk", "dropped", "flask__diameter_um", "flask__height_um"
        ):
            volume = compute_flask_volume(diameter, height) if diameter and height else 0
            self._mates[day].append((pk, dropped, volume))

    def _gather_casts(self, first: date, last: date) -> None:
        """The closed casts of some days in order, after the last before them, and those that used each tool."""
        rows = Cast.objects.filter(closed_on__isnull=False)
        latest = rows.filter(day__lt=first).order_by("-day", "-pk")[:PAST_CASTS]
        self._casts = list(latest.values_list("day", "pk"))[::-1]
        rows = rows.filter(day__range=(first, last)).order_by("day", "pk")
        for day, pk, *tools in rows.values_list("day", "pk", *(f"{name}_id" for name in TOOLS)):
            self._casts.append((day, pk))
            for name, tool in zip(TOOLS, tools, strict=True):
                if tool is not None:
                    self._used[name, tool].append((day, pk))

    def _gather_time(self, casts: set[int]) -> None:
        """Minutes at the bench on each cast as a whole and on its pieces, and how many pieces it has."""
        rows = BenchTime.objects.filter(cast__in=casts).order_by().values_list("cast_id")
        for pk, on_cast, on_pieces in rows.annotate(
            on_cast=Sum("minutes", filter=Q(piece__isnull=True), default=0),
            on_pieces=Sum("minutes", filter=Q(piece__isnull=False), default=0),
        ):
            self._minutes[pk] = (on_cast, on_pieces)
        pieces = Piece.objects.filter(cast__in=casts, void=False).order_by().values_list("cast_id")
        self._pieces = dict(pieces.annotate(count=Count("pk")))


def _before_cast(plan: Plan) -> Moment:
    """Before the plan's own cast; while it has none, after all of its day."""
    return (day_of(plan), plan.cast_id or MUCH_LATER)
