"""What a thermocouple wrote of a firing."""

from django.conf import settings
from django.db import models

from studio.kit.models import check

from .firing import Equipment, Firing


class KilnLog(models.Model):
    """The log of one firing, thinned to a line that keeps every peak, and what all of its readings showed.

    `points` are [second, tenths of a degree C] from the first reading on, `planned` [minute, C] the curve that the
    firing was planned with. `figures` are those of `LogFigures`, `rates` the windows that teach the kiln's own curve
    ([from, to] in tenths of a degree, and seconds), all whole numbers.
    """

    firing = models.OneToOneField(Firing, models.CASCADE, related_name="log")
    # Its firing's, so that the latest of a kiln are found without reading all.
    kiln = models.ForeignKey(Equipment, models.PROTECT, null=True, related_name="+")
    name = models.CharField(max_length=120)
    how = models.CharField(max_length=200)
    begun_at = models.DateTimeField(null=True, blank=True)
    readings = models.PositiveIntegerField()
    odd_lines = models.PositiveIntegerField(default=0)
    first_odd = models.PositiveIntegerField(default=0)
    points = models.JSONField()
    planned = models.JSONField(default=list)
    figures = models.JSONField()
    rates = models.JSONField()
    taken_in_at = models.DateTimeField()
    taken_in_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["-firing__day", "-firing"]
        indexes = [models.Index("kiln", models.F("firing").desc(), name="kilnlog_latest_of_kiln")]
        constraints = [check("kilnlog_has_readings", readings__gte=1)]

    def __str__(self) -> str:
        return self.name
