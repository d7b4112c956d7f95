"""Reads of firings: the energy each took or would take, what the kiln's meter says, and the casts in it."""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Count, F, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from inventory.core.energy import (
    Correction,
    Energy,
    MeasuredSums,
    compute_correction,
    compute_energy_by_steps,
    compute_energy_from_meter,
    compute_energy_from_rating,
    correct_energy,
    list_heated_parts,
)
from inventory.core.schedule import ScheduleStep, count_minutes
from inventory.models import Cast, DayPractice, Equipment, Firing, Schedule
from studio.kit.units import MINUTES_PER_HOUR, PCT100_WHOLE, divide_half_up

from .studio import hold_longer, schedule_steps

CHOICE_MOST = 30
ENERGY_UNKNOWN = (
    "Not known: no meter was read, and the kiln's power or the share of its time is not written down."
)
STILL_RUNNING = "Not known yet: the kiln is still running. Write down when it ended, and the meter."
ENERGY_UNEXPECTED = (
    "The energy cannot be told beforehand: the kiln's power, or the share of its time that it heats, is not "
    "written down."
)

Moment = tuple[date, int]
"""A place in the row of all firings: its day, and on one day the order in which they were written down."""
MUCH_LATER = 2**63


def firings() -> QuerySet[Firing]:
    """Firings with their kiln and `cast_count`."""
    # Counted for each firing that is shown, not for all before the newest are chosen.
    casts = Cast.objects.filter(firing=OuterRef("pk")).order_by().values("firing")
    return Firing.objects.select_related("kiln").annotate(
        cast_count=Coalesce(Subquery(casts.annotate(count=Count("pk")).values("count")), 0)
    )


def measured_energy(firing: Firing) -> Energy | None:
    """By the meter; None where it was not read."""
    if firing.meter_before_wh is None or firing.meter_after_wh is None:
        return None
    return compute_energy_from_meter(firing.meter_before_wh, firing.meter_after_wh)


def estimate_firing(firing: Firing) -> Energy:
    """By rated power, the firing's own before the kiln's, without looking at a meter."""
    rated_w = firing.rated_w or firing.kiln.rated_w
    share_pct100 = firing.share_on_pct100 or firing.kiln.share_on_pct100
    if firing.minutes is None:
        return Energy(problem=STILL_RUNNING)
    if rated_w and share_pct100:
        return compute_energy_from_rating(rated_w, firing.minutes, share_pct100)
    return Energy(problem=ENERGY_UNKNOWN)


@dataclass
class _Past:
    """One kiln's firings in order, each with what had run up before it and, last, up to now."""

    moments: list[Moment] = field(default_factory=list)
    minutes: list[int] = field(default_factory=lambda: [0])
    sums: list[MeasuredSums] = field(default_factory=lambda: [MeasuredSums()])
    # Watts x minutes of the measured firings: an estimate for any share of the time is a product away.
    watt_minutes: list[tuple[int, int, int]] = field(default_factory=lambda: [(0, 0, 0)])

    def place(self, before: Moment | None) -> int:
        return len(self.moments) if before is None else bisect_left(self.moments, before)


class KilnRecords:
    """All firings of some kilns, or of every kiln, up to a day, read once: what ran, was measured and estimated.

    Whoever asks for no moment before the day `first` says so: then the database adds up what was before it, and a
    kiln of fifty years is read as quickly as a new one.
    """

    def __init__(
        self, kilns: Iterable[int] | None = None, last: date | None = None, first: date | None = None
    ) -> None:
        self._past: dict[int, _Past] = defaultdict(_Past)
        rows = Firing.objects.order_by("day", "pk")
        if kilns is not None:
            rows = rows.filter(kiln__in=set(kilns))
        if last is not None:
            rows = rows.filter(day__lte=last)
        if first is not None:
            self._past.update(_sum_up(rows.filter(day__lt=first)))
            rows = rows.filter(day__gte=first)
        columns = ("kiln_id", "day", "pk", "minutes", "meter_before_wh", "meter_after_wh", *_PLATES)
        for kiln, day, pk, minutes, before_wh, after_wh, *plates in rows.values_list(*columns):
            measured_wh = 0 if before_wh is None or after_wh is None else after_wh - before_wh
            _add(self._past[kiln], (day, pk), minutes or 0, measured_wh, _plate(plates))

    def minutes_before(self, kiln: int, before: Moment | None = None) -> int:
        """How long a kiln had run before a firing."""
        past = self._past[kiln]
        return past.minutes[past.place(before)]

    def correction(
        self, kiln: int, before: Moment | None = None, share_pct100: int | None = None
    ) -> Correction:
        """What the meter showed before a firing over what was estimated.

        `share_pct100` is the share of the time heating that the estimate in question takes: then the measured
        firings are estimated with the same share, so that the two can be compared.
        """
        past = self._past[kiln]
        place = past.place(before)
        if share_pct100 is None:
            return compute_correction(past.sums[place])
        count, measured_wh, watt_minutes = past.watt_minutes[place]
        estimated_wh = divide_half_up(watt_minutes * share_pct100, MINUTES_PER_HOUR * PCT100_WHOLE)
        if not estimated_wh:
            count = 0
        return compute_correction(MeasuredSums(count, measured_wh, estimated_wh))

    def energy_of(self, firing: Firing) -> Energy:
        """By the meter if it was read; else by rated power, put right by the measured firings before it."""
        measured = measured_energy(firing)
        if measured is not None:
            return measured
        estimate = estimate_firing(firing)
        if estimate.problem:
            return estimate
        return correct_energy(estimate, self.correction(firing.kiln_id, (firing.day, firing.pk)))


def _sum_up(rows: QuerySet[Firing]) -> dict[int, _Past]:
    """What adding these firings one by one comes to, kiln by kiln; those of equal hours are added together."""
    measured = Q(meter_after_wh__gt=F("meter_before_wh"))
    groups = (
        rows.order_by()
        .values_list("kiln_id", "minutes", *_PLATES)
        .annotate(
            fired=Count("pk"),
            readings=Count("pk", filter=measured),
            wh=Sum(F("meter_after_wh") - F("meter_before_wh"), filter=measured, default=0),
        )
    )
    past: dict[int, _Past] = defaultdict(_Past)
    for kiln, minutes, *plates, fired, readings, measured_wh in groups:
        one = past[kiln]
        one.minutes[-1] += (minutes or 0) * fired
        if readings:
            one.sums[-1], one.watt_minutes[-1] = _measured(
                one, minutes, _plate(plates), readings, int(measured_wh)
            )
    return past


_PLATES = ("rated_w", "kiln__rated_w", "share_on_pct100", "kiln__share_on_pct100")


def _plate(plates: Sequence[int | None]) -> tuple[int, int]:
    """Watts and share of the time, the firing's own before the kiln's; 0 for what is not known."""
    own_w, kiln_w, own_share, kiln_share = plates
    return own_w or kiln_w or 0, own_share or kiln_share or 0


def _measured(
    past: _Past, minutes: int, plate: tuple[int, int], readings: int, measured_wh: int
) -> tuple[MeasuredSums, tuple[int, int, int]]:
    """The last sums with so many readings more, of firings that took so long each."""
    watts, share = plate
    sums, by_share = past.sums[-1], past.watt_minutes[-1]
    if not watts:
        return sums, by_share
    count, wh, watt_minutes = by_share
    by_share = (count + readings, wh + measured_wh, watt_minutes + watts * minutes * readings)
    estimated_wh = divide_half_up(watts * minutes * share, MINUTES_PER_HOUR * PCT100_WHOLE)
    if estimated_wh:
        sums = MeasuredSums(
            sums.firings + readings,
            sums.measured_wh + measured_wh,
            sums.estimated_wh + estimated_wh * readings,
        )
    return sums, by_share


def _add(past: _Past, moment: Moment, minutes: int, measured_wh: int, plate: tuple[int, int]) -> None:
    sums, by_share = past.sums[-1], past.watt_minutes[-1]
    if measured_wh > 0:
        sums, by_share = _measured(past, minutes, plate, 1, measured_wh)
    past.moments.append(moment)
    past.minutes.append(past.minutes[-1] + minutes)
    past.sums.append(sums)
    past.watt_minutes.append(by_share)


@dataclass(frozen=True)
class ExpectedFiring:
    """What a schedule asks of a kiln before it is fired."""

    minutes: int
    energy: Energy
    estimate: Energy
    correction: Correction


def expect_firing(
    kiln: Equipment,
    schedule: Schedule,
    records: KilnRecords,
    practice: DayPractice,
    before: Moment | None = None,
    queue_minutes: int = 0,
) -> ExpectedFiring:
    """Minutes and energy of a schedule on a kiln, put right by its measured firings before a moment.

    The last hold goes on for `queue_minutes` while the flasks are poured in turn.
    """
    steps, room_c = hold_longer(schedule_steps(schedule, practice, kiln), queue_minutes), practice.room_c
    minutes = count_minutes(steps, room_c)
    shares = [step.on_pct100 for step in schedule.steps.all()]
    estimate, mean_pct100 = _estimate_steps(kiln, steps, shares, room_c)
    correction = records.correction(kiln.pk, before, mean_pct100)
    energy = estimate if estimate.problem else correct_energy(estimate, correction)
    return ExpectedFiring(minutes, energy, estimate, correction)


def _estimate_steps(
    kiln: Equipment, steps: tuple[ScheduleStep, ...], shares: list[int | None], room_c: int
) -> tuple[Energy, int | None]:
    """The estimate, and the mean share of the time heating where the steps have their own."""
    known = [kiln.share_on_pct100 if share is None else share for share in shares]
    certain = [share for share in known if share is not None]
    if not kiln.rated_w or not steps or len(certain) < len(known):
        return Energy(problem=ENERGY_UNEXPECTED), None
    parts = list_heated_parts(steps, certain, room_c)
    minutes = sum(part.minutes for part in parts)
    if all(share is None for share in shares) or not minutes:
        return compute_energy_by_steps(kiln.rated_w, parts), None
    mean = divide_half_up(sum(part.minutes * part.on_pct100 for part in parts), minutes)
    return compute_energy_by_steps(kiln.rated_w, parts), mean


def casts_for_firing(firing: Firing | None) -> QuerySet[Cast]:
    """The casts that may be ticked: those in this firing, and the newest that are in none."""
    free = Cast.objects.filter(firing=None).order_by("-number").values_list("pk", flat=True)[:CHOICE_MOST]
    choice = Q(pk__in=list(free))
    if firing is not None and firing.pk:
        choice |= Q(firing=firing)
    return Cast.objects.filter(choice).order_by("-number")
