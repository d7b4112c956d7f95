"""What each kiln has shown of its own pace: the logs of its latest firings, and the curves that fit them."""

import json
from typing import Any

from django.db import connection

from inventory.core.kiln_curve import KilnCurves, fit_curves
from inventory.core.kiln_rates import FiringRates, unpack_rates
from inventory.core.schedule import Pace
from inventory.models import DayPractice, Equipment

LATEST = 20
"""A kiln ages: what it did longer ago than so many firings counts no more."""
MOST_KILNS = 50
_READ = "read_kiln_rates"
Rates = dict[int, dict[int, FiringRates]]
"""By kiln and firing."""


def pace_of(kiln: Equipment | None, practice: DayPractice, but: int | None = None) -> Pace:
    """The pace of a kiln by its own curves, then by the studio's setting; without a kiln only the setting.

    `but` is a firing that counts for nothing. What was read is kept with the practice: a page of many plans asks once.
    """
    curves = curves_of(kiln, practice, but) if kiln is not None else KilnCurves()
    return Pace(practice.climb_c_per_hour, practice.fall_c_per_hour, curves)


def curves_of(kiln: Equipment, practice: DayPractice, but: int | None = None) -> KilnCurves:
    """What its latest firings show of a kiln."""
    rates: Rates | None = practice.__dict__.get(_READ)
    if rates is None:
        rates = practice.__dict__[_READ] = read_rates()
    firings = rates.get(kiln.pk, {})
    return fit_curves(tuple(one for firing, one in firings.items() if firing != but), int(practice.room_c))


def read_rates() -> Rates:
    """How fast each kiln in use climbed and fell in its latest firings, in two queries.

    All that teaches a kiln's curve comes together here, each firing once. Moments at which somebody turned a kiln
    and saw where it stood would be joined to the others by `join_moments`.
    """
    in_use = Equipment.objects.filter(kind=Equipment.Kind.KILN, archived=False).order_by("pk")
    kilns = list(in_use.values_list("pk", flat=True)[:MOST_KILNS])
    found: Rates = {}
    for kiln, firing, packed in _read_logs(kilns):
        found.setdefault(kiln, {})[firing] = unpack_rates(json.loads(packed))
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
