"""Which casts set the limits of what is usually lost."""

from django.conf import settings
from django.db import models
from django.db.models import F

from studio.kit.models import check

from .stock import Alloy


class LossLimits(models.Model):
    """Limits that the studio set anew for a family of metals: by the casts from one number to another, and why.

    The newest of a family count; before there are any, its first casts set them.
    """

    metal = models.CharField(max_length=9, choices=Alloy.Metal)
    first_number = models.PositiveIntegerField()
    last_number = models.PositiveIntegerField()
    reason = models.CharField(max_length=200)
    set_on = models.DateField()
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "loss limits"
        constraints = [check("losslimits_first_before_last", first_number__lte=F("last_number"))]

    def __str__(self) -> str:
        return f"limits of {self.get_metal_display()}, casts {self.first_number} to {self.last_number}"
