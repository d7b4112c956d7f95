"""Tins: reclaim of one sort that was put together."""

from django.db import models

from studio.kit.models import check

from .stock import Lot


class Tin(models.Model):
    """A tin with a name. What is in it is one lot, a new one each time something is put in: so each keeps its make-up.

    It takes reclaim of one alloy, of one kind and of one owner (None: the studio).
    """

    name = models.CharField(max_length=60, unique=True)
    material = models.ForeignKey("Material", models.PROTECT, related_name="tins")
    kind = models.CharField(max_length=9, choices=Lot.Origin)
    owner = models.ForeignKey("Customer", models.PROTECT, null=True, blank=True, related_name="tins")
    is_open = models.BooleanField(default=True)

    class Meta:
        ordering = ["-is_open", "name"]
        constraints = [check("tin_holds_reclaim", kind__in=Lot.IN_TINS)]

    def __str__(self) -> str:
        return self.name
