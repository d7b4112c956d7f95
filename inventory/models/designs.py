"""Designs: what a pattern is a copy of, and what it usually weighs, takes and asks for at the bench."""

from django.db import models
from django.db.models import Q

from studio.kit.models import check

from .casting import Task


class Design(models.Model):
    """What is cast again and again. Masses are milligrams of one piece; what is empty is learnt from its pieces.

    `alloy` is what it is usually cast in, and that its masses are told in.
    """

    name = models.CharField(max_length=100, unique=True)
    collection = models.CharField(max_length=60, blank=True, default="")
    alloy = models.ForeignKey("Alloy", models.PROTECT, null=True, blank=True, related_name="designs")
    pattern_material = models.ForeignKey("Material", models.PROTECT, null=True, blank=True, related_name="+")
    pattern_mg = models.PositiveIntegerField(null=True, blank=True)
    cast_mg = models.PositiveIntegerField(null=True, blank=True)
    finished_mg = models.PositiveIntegerField(null=True, blank=True)
    # How much of a flask's height its pattern needs; None while nobody measured it.
    height_um = models.PositiveIntegerField(null=True, blank=True)
    note = models.CharField(max_length=2000, blank=True, default="")
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            check(
                "design_masses_are_something",
                (Q(pattern_mg__isnull=True) | Q(pattern_mg__gt=0))
                & (Q(cast_mg__isnull=True) | Q(cast_mg__gt=0))
                & (Q(finished_mg__isnull=True) | Q(finished_mg__gt=0)),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class DesignPart(models.Model):
    """A finding, a stone or a box that each piece of a design takes, in the unit of its material."""

    design = models.ForeignKey(Design, models.CASCADE, related_name="parts")
    material = models.ForeignKey("Material", models.PROTECT, related_name="+")
    quantity = models.BigIntegerField()
    place = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["design", "place", "id"]
        constraints = [check("designpart_more_than_nothing", quantity__gt=0)]

    def __str__(self) -> str:
        return f"{self.material} in {self.design}"


class DesignTime(models.Model):
    """Minutes that a task usually takes for so many pieces of a design."""

    design = models.ForeignKey(Design, models.CASCADE, related_name="times")
    task = models.CharField(max_length=6, choices=Task, blank=True, default="")
    what = models.CharField(max_length=60, blank=True, default="")
    minutes = models.PositiveIntegerField()
    pieces = models.PositiveSmallIntegerField(default=1)
    place = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["design", "place", "id"]
        constraints = [
            check("designtime_range", minutes__gte=1, minutes__lte=10080, pieces__gte=1, pieces__lte=500)
        ]

    def __str__(self) -> str:
        return f"{self.get_task_display() or self.what} of {self.design}"
