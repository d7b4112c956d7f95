"""The log of a thermocouple is taken in for a firing, and taken out; days to come follow what it teaches."""

from dataclasses import asdict
from typing import Any

from django.contrib.auth.models import User
from django.utils import timezone

from inventory.core.kiln_holds import compute_figures, thin
from inventory.core.kiln_log import ReadLog
from inventory.core.kiln_rates import Reading, measure_rates, pack_rates
from inventory.core.schedule import Stretch, compute_curve, lay_out, list_asked
from inventory.models import Equipment, Firing, KilnLog
from inventory.queries.kiln_curves import pace_of
from inventory.queries.studio import below_top, current_practice, days_to_come, steps_at

from .locking import bring_up_to_date
from .setup import renew_days


def keep_log(firing: Firing, name: str, read: ReadLog, by: User) -> KilnLog:
    """Keep the log of a firing, in place of the one that it has. The schedule is that of its casting day.

    Raises Refused where the firing was taken out meanwhile. To be called while nobody else writes.
    """
    bring_up_to_date([firing])
    laid, planned = _plan_of(firing)
    asked = list_asked(laid) if firing.kiln.has_program else None
    figures = asdict(compute_figures(read.readings, laid, planned))
    facts: dict[str, Any] = {
        "kiln": firing.kiln,
        "name": name,
        "how": read.how,
        "begun_at": read.begun,
        "readings": len(read.readings),
        "odd_lines": read.odd_lines,
        "first_odd": read.first_odd,
        "points": _pack(thin(read.readings)),
        "planned": planned,
        "figures": figures,
        "rates": pack_rates(measure_rates(read.readings, asked)),
        "taken_in_at": timezone.now(),
        "taken_in_by": by,
    }
    log, _ = KilnLog.objects.update_or_create(firing=firing, defaults=facts)
    _renew(firing.kiln)
    return log


def follow_firing(firing: Firing) -> None:
    """A firing was of another kiln: so is its log and, while it runs, the day whose flasks stand in it."""
    if firing.is_running:
        days = firing.days.exclude(kiln=firing.kiln_id)
        renew_days(days)
        days.update(kiln=firing.kiln)
    if KilnLog.objects.filter(firing=firing).exclude(kiln=firing.kiln_id).update(kiln=firing.kiln_id):
        _renew(firing.kiln)


def remove_log(log: KilnLog) -> None:
    kiln = log.firing.kiln
    log.delete()
    _renew(kiln)


def _renew(kiln: Equipment) -> None:
    """The times of this kiln's days to come are others now."""
    renew_days(days_to_come().filter(kiln=kiln))


def _plan_of(firing: Firing) -> tuple[tuple[Stretch, ...], list[tuple[int, int]]]:
    """The climbs and holds that the firing was planned with, and the corners of their curve; none where it was not."""
    day = firing.days.select_related("schedule").prefetch_related("schedule__steps").order_by("pk").first()
    if day is None:
        return (), []
    practice = current_practice()
    steps = below_top(steps_at(day.schedule, pace_of(firing.kiln, practice, but=firing.pk)), day, practice)
    if not steps or any(step.climb_c_per_hour == 0 for step in steps):
        return (), []
    return lay_out(steps, practice.room_c), list(compute_curve(steps, practice.room_c))


def _pack(readings: list[Reading]) -> list[list[int]]:
    return [[round(minute * 60), round(c * 10)] for minute, c in readings]
