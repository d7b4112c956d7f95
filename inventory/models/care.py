"""How powder was found to set, and what else is known only by trying."""

from django.conf import settings
from django.db import models

from studio.kit.models import check


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
