"""What the studio casts with, and each kiln session."""

from datetime import datetime, timedelta

from django.db import models
from django.db.models import F, Q

from studio.kit.models import check
from studio.kit.printing import print_minutes

RUNNING = "still running"


class Equipment(models.Model):
    """A kiln, flask, crucible, casting machine or pump: what it cost, how long it lasts, what is left at the end.

    Its life is counted in hours for a kiln, melts for a crucible and casts for the rest.
    """

    class Kind(models.TextChoices):
        KILN = "kiln", "kiln"
        FLASK = "flask", "flask"
        CRUCIBLE = "crucible", "crucible"
        MACHINE = "machine", "casting machine"
        PUMP = "pump", "vacuum pump"

    LIFE_UNITS = {
        Kind.KILN: "hours",
        Kind.FLASK: "casts",
        Kind.CRUCIBLE: "melts",
        Kind.MACHINE: "casts",
        Kind.PUMP: "casts",
    }

    class CrucibleMaterial(models.TextChoices):
        GRAPHITE = "graphite", "graphite"
        CERAMIC = "ceramic", "ceramic"
        SILICA = "silica", "fused silica"

    kind = models.CharField(max_length=8, choices=Kind)
    name = models.CharField(max_length=60)
    bought_on = models.DateField(null=True, blank=True)
    price_micro = models.BigIntegerField(default=0)
    end_value_micro = models.BigIntegerField(default=0)
    life_uses = models.PositiveIntegerField(null=True, blank=True)
    uses_before = models.PositiveIntegerField(default=0)
    diameter_um = models.PositiveIntegerField(null=True, blank=True)
    height_um = models.PositiveIntegerField(null=True, blank=True)
    capacity_mg = models.BigIntegerField(null=True, blank=True)
    crucible_material = models.CharField(max_length=8, choices=CrucibleMaterial, blank=True, default="")
    rated_w = models.PositiveIntegerField(null=True, blank=True)
    share_on_pct100 = models.PositiveIntegerField(null=True, blank=True)
    has_program = models.BooleanField(default=False)
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["kind", "name"]
        verbose_name_plural = "equipment"
        constraints = [
            models.UniqueConstraint(fields=["kind", "name"], name="equipment_name_once"),
            check(
                "equipment_end_value_within_price",
                price_micro__gte=0,
                end_value_micro__gte=0,
                end_value_micro__lte=F("price_micro"),
            ),
            check(
                "equipment_share_on_at_most_all",
                Q(share_on_pct100__isnull=True) | Q(share_on_pct100__lte=10000),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def life_unit(self) -> str:
        return self.LIFE_UNITS[self.Kind(self.kind)]


class Firing(models.Model):
    """One kiln session with one or more flasks: a record of use that costing reads, not stock.

    Its energy comes from the meter, or from rated power x hours x share of time on. While the kiln is on it has begun
    at a moment and has no minutes yet.
    """

    kiln = models.ForeignKey(Equipment, models.PROTECT, related_name="firings")
    day = models.DateField()
    minutes = models.PositiveIntegerField(null=True, blank=True)
    begun_at = models.DateTimeField(null=True, blank=True)
    meter_before_wh = models.BigIntegerField(null=True, blank=True)
    meter_after_wh = models.BigIntegerField(null=True, blank=True)
    rated_w = models.PositiveIntegerField(null=True, blank=True)
    share_on_pct100 = models.PositiveIntegerField(null=True, blank=True)
    note = models.CharField(max_length=500, blank=True, default="")

    class Meta:
        ordering = ["-day", "-id"]
        indexes = [
            models.Index(fields=["-day", "-id"], name="firing_newest_first"),
            # All that is added up of a kiln's past, so that the sums need no other page of the table.
            models.Index(
                fields=[
                    "kiln",
                    "minutes",
                    "rated_w",
                    "share_on_pct100",
                    "day",
                    "meter_before_wh",
                    "meter_after_wh",
                ],
                name="firing_past_of_kiln",
            ),
        ]
        constraints = [
            check(
                "firing_meter_runs_forward",
                Q(meter_before_wh__isnull=True, meter_after_wh__isnull=True)
                | Q(meter_after_wh__gte=F("meter_before_wh")),
            ),
            check(
                "firing_minutes_range",
                # A comparison with nothing is neither true nor false, and would pass.
                Q(minutes__isnull=False, minutes__gte=1, minutes__lte=10080)
                | Q(minutes__isnull=True, begun_at__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"Firing {self.pk}"

    @property
    def is_running(self) -> bool:
        return self.minutes is None

    @property
    def off_at(self) -> datetime | None:
        """When it went off; None while it runs, and where nobody wrote down when it began."""
        if self.begun_at is None or self.minutes is None:
            return None
        return self.begun_at + timedelta(minutes=self.minutes)

    @property
    def how_long(self) -> str:
        return RUNNING if self.minutes is None else print_minutes(self.minutes)
