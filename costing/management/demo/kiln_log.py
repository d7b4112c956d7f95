"""The demo's thermocouple: the log of one firing, made from the law of a kiln of our own invention."""

from datetime import timedelta
from math import exp, sin

from django.contrib.auth.models import User
from django.utils import timezone

from inventory import models
from inventory.core.kiln_log import read_log
from inventory.core.schedule import compute_set_points, count_minutes
from inventory.posting.kiln_logs import keep_log
from inventory.queries.studio import current_practice, schedule_steps

# Quick enough for every climb and fall of the demo's schedules, so that no timetable becomes another.
FULL_HEAT_C, CLIMB_MINUTES = 1_180.0, 110.0
FALL_MINUTES = 180.0
STEP_MINUTES = 0.5
# The third turn came late, and the kiln swings about its mark.
LATE_TURN, LATE_MINUTES = 2, 12
SWING_C = 4.0


def add_log(person: User) -> None:
    """The log of the newest firing that was planned."""
    day = models.CastingDay.objects.exclude(firing=None).order_by("-firing__day", "-firing").first()
    if day is None or day.firing is None:
        return
    practice = current_practice()
    steps = schedule_steps(day.schedule, practice)
    minutes = count_minutes(steps, practice.room_c)
    points = compute_set_points(steps, practice.room_c, practice.largest_step_c)
    turns = [
        (point.minute + (LATE_MINUTES if place == LATE_TURN else 0), point.set_c)
        for place, point in enumerate(points)
    ]
    begun = timezone.localtime(day.wish_at) - timedelta(minutes=minutes)
    rows = [
        f"{begun + timedelta(minutes=minute):%Y-%m-%d %H:%M:%S};{c:.1f}".replace(".", ",")
        for minute, c in _fire(turns, minutes, practice.room_c)
    ]
    content = "\n".join(["Time;Kiln °C", *rows]).encode()
    log = read_log(content, timezone.get_current_timezone())
    keep_log(day.firing, f"kiln-{begun:%Y-%m-%d}.csv", log, person)


def _fire(turns: list[tuple[int, int]], minutes: int, room_c: int) -> list[tuple[float, float]]:
    """A reading every half minute from a little before the kiln goes on until the pour."""
    c, readings = float(room_c), [(float(minute), float(room_c)) for minute in range(-8, 0)]
    for place in range(int(minutes / STEP_MINUTES) + 1):
        minute = place * STEP_MINUTES
        set_c = [set_c for at, set_c in turns if at <= minute][-1] + SWING_C * sin(minute / 3)
        is_up = set_c > c
        towards, tau = (FULL_HEAT_C, CLIMB_MINUTES) if is_up else (float(room_c), FALL_MINUTES)
        there = towards + (c - towards) * exp(-STEP_MINUTES / tau)
        c = min(there, set_c) if is_up else max(there, set_c)
        readings.append((minute, c + 0.6 * sin(place * 1.7)))
    return readings
