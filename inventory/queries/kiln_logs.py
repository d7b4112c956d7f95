"""Reads of what a thermocouple wrote of a firing: its line over the plan's, and its holds."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from django.utils import timezone

from inventory.core.kiln_curve import Curve, explain_curve
from inventory.core.kiln_holds import FoundHold, LogFigures, explain_figures
from inventory.core.kiln_log import tell_odd
from inventory.core.kiln_rates import Reading
from inventory.core.schedule_check import BURNT_OUT_C
from inventory.models import Equipment, Firing, KilnLog
from studio.kit.chart_curve import curve_chart
from studio.kit.chart_pen import Picture
from studio.kit.models import only_one
from studio.kit.working import Working

from .kiln_curves import curves_of
from .studio import current_practice

BEFORE_MINUTES = 15
SHOWN_C = 700
"""How long a climb from the room to here takes is told of every kiln; of one that was not seen so hot, to there."""


@dataclass(frozen=True)
class ShownLog:
    """A log as its firing's page shows it."""

    log: KilnLog

    @cached_property
    def figures(self) -> LogFigures:
        kept = dict(self.log.figures)
        return LogFigures(**kept | {"holds": tuple(FoundHold(**one) for one in kept["holds"])})

    @property
    def planned(self) -> list[tuple[int, int]]:
        return [(minute, c) for minute, c in self.log.planned]

    @property
    def line(self) -> list[Reading]:
        """The readings that are drawn, minutes from the kiln going on and a little before."""
        line = [(second / 60 - self.figures.on_minute, tenths / 10) for second, tenths in self.log.points]
        return [one for one in line if one[0] >= -BEFORE_MINUTES]

    @property
    def odd(self) -> list[str]:
        return list(tell_odd(self.log.odd_lines, self.log.first_odd))

    @property
    def is_of_another_day(self) -> bool:
        """Whether its times are of a day on which this kiln was not fired; the evening before may be in it."""
        begun = self.log.begun_at
        return begun is not None and abs(timezone.localdate(begun) - self.log.firing.day).days > 1

    @property
    def picture(self) -> Picture:
        return curve_chart(
            self.planned, measured=self.line, title="The kiln as it was planned and as it went"
        )

    @property
    def readings(self) -> str:
        return f"{self.log.readings:,}"

    @property
    def above_c(self) -> int:
        """Above which heat is counted."""
        return BURNT_OUT_C

    @property
    def working(self) -> Working:
        return explain_figures(self.figures, self.log.readings)

    @property
    def peak_after(self) -> int:
        return self.figures.peak_minute - self.figures.on_minute


def find_log(firing_id: int) -> KilnLog | None:
    return only_one(KilnLog.objects.select_related("firing__kiln").filter(firing=firing_id))


def log_of(firing: Firing) -> ShownLog | None:
    log = find_log(firing.pk)
    return ShownLog(log) if log else None


@dataclass(frozen=True)
class LearntCurve:
    """What is told of one way of a kiln: from where to where, how long it takes, and why."""

    curve: Curve
    from_c: int
    to_c: int

    @property
    def is_up(self) -> bool:
        return self.to_c > self.from_c

    @property
    def minutes(self) -> int:
        return self.curve.minutes(self.from_c, self.to_c)

    @property
    def towards_c(self) -> int:
        return round(self.curve.towards_c)

    @property
    def working(self) -> Working:
        return explain_curve(self.curve, self.from_c, self.to_c)


def learnt_of(kiln: Equipment) -> Sequence[LearntCurve]:
    """What a kiln has shown so far, up and down."""
    return tuple(_tell(kiln))


def _tell(kiln: Equipment) -> Iterator[LearntCurve]:
    practice = current_practice()
    curves, room_c = curves_of(kiln, practice), int(practice.room_c)
    if curves.climb:
        yield LearntCurve(curves.climb, room_c, min(SHOWN_C, round(curves.climb.most_c)))
    if curves.fall:
        yield LearntCurve(curves.fall, round(curves.fall.most_c), round(curves.fall.least_c))
