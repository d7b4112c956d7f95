"""The checks of kilns: one firing at a time, a log of its firing's kiln, turns in the order of the schedule."""

from datetime import datetime
from typing import Any

from django.db.models import F, QuerySet

from inventory.models import Firing, KilnLog, KilnTurn
from inventory.queries.kept import count_of, kept

from .reading import Ledger
from .registry import Finding, register_check


@register_check
def check_running(ledger: Ledger) -> Finding:
    """What runs has no end yet; two at once in one kiln would each count what its meter shows."""
    finding = Finding("a kiln runs one firing at a time, and what still runs was not read at its end")
    running: dict[int, int] = {}
    for pk, kiln, after_wh in _running():
        finding.checked += 1
        if after_wh is not None:
            finding.problems.append(f"firing {pk} is still running and its meter was read at its end")
        if kiln in running:
            finding.problems.append(f"firings {running[kiln]} and {pk} both run in kiln {kiln}")
        running[kiln] = pk
    return finding


@kept
def _running() -> QuerySet[Firing, Any]:
    return Firing.objects.filter(minutes=None).order_by("pk").values_list("pk", "kiln", "meter_after_wh")


@register_check
def check_kiln_logs(ledger: Ledger) -> Finding:
    """The curve of a kiln is learnt from the logs that are said to be its own."""
    finding = Finding("a thermocouple's log is of the kiln of its firing")
    [(finding.checked,)] = _number_of_logs()
    finding.problems += [
        f"the log of firing {firing} is said to be of kiln {kiln}" for firing, kiln in _stray_logs()
    ]
    return finding


@kept
def _number_of_logs() -> QuerySet[Any, Any]:
    return count_of(KilnLog.objects.all())


@kept
def _stray_logs() -> QuerySet[KilnLog, Any]:
    strays = KilnLog.objects.exclude(kiln=F("firing__kiln")).order_by("pk")
    return strays.values_list("firing", "kiln")


@register_check
def check_turns(ledger: Ledger) -> Finding:
    finding = Finding("a kiln was turned in the order of its set points")
    last: tuple[int, datetime] | None = None
    for day, place, at in _turns():
        finding.checked += 1
        if last is not None and last[0] == day and at < last[1]:
            finding.problems.append(f"turn {place} of casting day {day} was before the one ahead of it")
        last = (day, at)
    return finding


@kept
def _turns() -> QuerySet[KilnTurn, Any]:
    columns = ("day", "place", "at")
    return KilnTurn.objects.order_by(*columns).values_list(*columns)
