"""How powder was found to set, and what wears and is replaced."""

from django.conf import settings
from django.db import models

from studio.kit.models import check

from .firing import Equipment


class SettingTest(models.Model):
    """A cupful of a lot of powder, mixed with its water and watched until it had set."""

    lot = models.ForeignKey("Lot", models.PROTECT, related_name="setting_tests")
    day = models.DateField()
    minutes = models.PositiveSmallIntegerField()
    note = models.CharField(max_length=500, blank=True, default="")
    tested_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-day", "-id"]
        constraints = [check("settingtest_takes_time", minutes__gte=1)]

    def __str__(self) -> str:
        return f"setting test of {self.lot}, {self.day}"


class WearingPart(models.Model):
    """Something that wears and is replaced: a kiln's elements, a pump's oil, a hose, a seal.

    `equipment` None: every cast or firing of the studio wears it. `life` is what it lasts as far as anybody knows.
    """

    class CountedBy(models.TextChoices):
        HOURS = "hours", "hours of the kiln"
        CASTS = "casts", "casts"
        DAYS = "days", "days"

    name = models.CharField(max_length=80, unique=True)
    equipment = models.ForeignKey(
        Equipment, models.PROTECT, null=True, blank=True, related_name="wearing_parts"
    )
    counted_by = models.CharField(max_length=5, choices=CountedBy)
    life = models.PositiveIntegerField()
    new_on = models.DateField()
    lead_days = models.PositiveSmallIntegerField(default=7)
    note = models.CharField(max_length=500, blank=True, default="")
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [check("wearingpart_lasts", life__gte=1)]

    def __str__(self) -> str:
        return self.name


class Replacement(models.Model):
    """A part that was new on one day was replaced on another: how much it was used, in the unit of its life."""

    part = models.ForeignKey(WearingPart, models.PROTECT, related_name="replacements")
    new_on = models.DateField()
    day = models.DateField()
    used = models.PositiveIntegerField()
    was_worn_out = models.BooleanField(default=True)
    note = models.CharField(max_length=500, blank=True, default="")
    replaced_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-day", "-id"]

    def __str__(self) -> str:
        return f"{self.part} replaced on {self.day}"
