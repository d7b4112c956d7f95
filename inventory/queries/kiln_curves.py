"""What each kiln has shown of its own pace: the logs of its latest firings, and the curves that fit them."""

import json
from typing import Any

from django.db import connection
from django.db.models import F
from django.db.models.functions import Coalesce

from inventory.core.kiln_curve import KilnCurves, fit_curves
from inventory.core.kiln_rates import FiringRates, RatesOfKilns, Reading, join_moments, unpack_rates
from inventory.core.schedule import Pace
from inventory.models import DayPractice, Equipment, KilnTurn
from studio.kit.units import SECONDS_PER_MINUTE

LATEST = 20
"""A kiln ages: what it did longer ago than so many firings counts no more."""
MOST_KILNS = 50
MOST_TURNS = 400


def pace_of(kiln: Equipment | None, practice: DayPractice, but: int | None = None) -> Pace:
    """The pace of a kiln by its own curves, then by the studio's setting; without a kiln only the setting.

    `but` is a firing that counts for nothing. What was read is kept with the practice: a page of many plans asks once.
    """
    curves = curves_of(kiln, practice, but) if kiln is not None else KilnCurves()
    return Pace(practice.climb_c_per_hour, practice.fall_c_per_hour, curves)


def curves_of(kiln: Equipment, practice: DayPractice, but: int | None = None) -> KilnCurves:
    """What its latest firings show of a kiln."""
    if practice.rates_of_kilns is None:
        practice.rates_of_kilns = read_rates()
    firings = practice.rates_of_kilns.get(kiln.pk, {})
    return fit_curves(tuple(one for firing, one in firings.items() if firing != but), int(practice.room_c))


def read_rates() -> RatesOfKilns:
    """How fast each kiln in use climbed and fell in its latest firings, in three queries.

    All that teaches a kiln's curve comes together here, each firing once: its log, or where it has none what somebody
    saw as they turned it. Only climbs are learnt so: between two turns down a kiln stands at its hold.
    """
    in_use = Equipment.objects.filter(kind=Equipment.Kind.KILN, archived=False).order_by("pk")
    kilns = list(in_use.values_list("pk", flat=True)[:MOST_KILNS])
    found: RatesOfKilns = {}
    for kiln, firing, packed in _read_logs(kilns):
        found.setdefault(kiln, {})[firing] = unpack_rates(json.loads(packed))
    for (kiln, firing), seen in _read_turns(kilns).items():
        climbs = FiringRates(join_moments(seen).climbs)
        if climbs.climbs and len(found.setdefault(kiln, {})) < LATEST:
            found[kiln].setdefault(firing, climbs)
    return found


def _read_turns(kilns: list[int]) -> dict[tuple[int, int], list[Reading]]:
    """What was seen at the turns of each kiln's latest days, by kiln and firing; a day without one is below zero.

    The kiln is that of the firing where it is written down: a day may have been planned for another.
    """
    rows = KilnTurn.objects.filter(seen_c__isnull=False).alias(
        kiln=Coalesce("day__firing__kiln", "day__kiln")
    )
    rows = rows.filter(kiln__in=kilns).order_by("-day", "place")
    named = (F("kiln"), "day__firing", "day", "at", "seen_c")
    found: dict[tuple[int, int], list[Reading]] = {}
    for kiln, firing, day, at, seen_c in rows.values_list(*named)[:MOST_TURNS]:
        seen = found.setdefault((kiln, firing or -day), [])
        seen.append((at.timestamp() / SECONDS_PER_MINUTE, seen_c))
    return found


def _read_logs(kilns: list[int]) -> list[Any]:
    if not kilns:
        return []
    # Each kiln's latest by themselves: one long list of all logs would be read to its end.
    latest = (
        "SELECT * FROM (SELECT kiln_id, firing_id, rates FROM inventory_kilnlog WHERE kiln_id = %s "
        "ORDER BY firing_id DESC LIMIT %s) AS latest"
    )
    with connection.cursor() as cursor:
        asked = [number for kiln in kilns for number in (kiln, LATEST)]
        cursor.execute(" UNION ALL ".join([latest] * len(kilns)), asked)
        return list(cursor.fetchall())
