"""Quotes: what somebody asked for, and what it is offered at."""

from django.db import models
from django.db.models import Q

from studio.kit.models import check

from .prices import Channel


class Quote(models.Model):
    """So many pieces of some designs in an alloy, through a channel, by a day. `plans` are what it became.

    Where the customer brings `own_metal`, it is casting for others: priced by those terms, with no cost of metal.
    """

    name = models.CharField(max_length=100)
    customer = models.ForeignKey(
        "inventory.Customer", models.PROTECT, null=True, blank=True, related_name="quotes"
    )
    alloy = models.ForeignKey("inventory.Alloy", models.PROTECT, related_name="quotes")
    channel = models.ForeignKey(Channel, models.PROTECT, null=True, blank=True, related_name="quotes")
    own_metal = models.BooleanField(default=False)
    wanted_on = models.DateField(null=True, blank=True)
    made_on = models.DateField()
    note = models.CharField(max_length=2000, blank=True, default="")
    plans = models.ManyToManyField("inventory.Plan", blank=True, related_name="quotes")
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["-made_on", "-id"]
        constraints = [check("quote_own_metal_is_somebodys", Q(own_metal=False) | Q(customer__isnull=False))]

    def __str__(self) -> str:
        return f"Quote {self.pk}, {self.name}"


class QuoteLine(models.Model):
    """So many pieces of a design. Without a price of its own it is offered at what the channel's rule says now.

    `fits` is how many of it fill a flask, where the studio's record is not to be taken.
    """

    quote = models.ForeignKey(Quote, models.CASCADE, related_name="lines")
    design = models.ForeignKey("inventory.Design", models.PROTECT, related_name="quote_lines")
    quantity = models.PositiveSmallIntegerField()
    price_micro = models.BigIntegerField(null=True, blank=True)
    fits = models.PositiveSmallIntegerField(null=True, blank=True)
    place = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["quote", "place", "id"]
        constraints = [
            models.UniqueConstraint(fields=["quote", "design"], name="quoteline_design_once"),
            check("quoteline_of_some", quantity__gte=1, quantity__lte=1000),
            check(
                "quoteline_figures_are_something",
                (Q(price_micro__isnull=True) | Q(price_micro__gt=0)) & (Q(fits__isnull=True) | Q(fits__gt=0)),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.design}"
