"""What suppliers offer, on what terms, and what was ordered of them. Stock comes with a delivery."""

from django.db import models
from django.db.models import Q

from studio.kit.models import check

from .buying import Supplier
from .stock import Material

PACKS_MAX = 10_000


class Offer(models.Model):
    """A supplier's pack of a material and its price, as told on a day.

    `quantity` is in the material's small unit. `keeps_days` is how long it is still good when it comes; None where
    that is what the material says of itself. `weighs_mg` counts for carriage by weight where the pack is no mass.
    """

    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="offers")
    material = models.ForeignKey(Material, models.PROTECT, related_name="offers")
    quantity = models.BigIntegerField()
    price_micro = models.BigIntegerField()
    told_on = models.DateField()
    keeps_days = models.PositiveSmallIntegerField(null=True, blank=True)
    weighs_mg = models.BigIntegerField(null=True, blank=True)
    note = models.CharField(max_length=120, blank=True, default="")
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["material__name", "supplier__name", "quantity", "id"]
        constraints = [
            check("offer_of_something", quantity__gt=0),
            check("offer_price_not_below_zero", price_micro__gte=0),
            check("offer_weighs_something", Q(weighs_mg__isnull=True) | Q(weighs_mg__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.material}, {self.supplier}"

    @property
    def keeps(self) -> int | None:
        return self.material.shelf_life_days if self.keeps_days is None else self.keeps_days


class PriceBreak(models.Model):
    """What one pack of an offer costs from so many on."""

    offer = models.ForeignKey(Offer, models.CASCADE, related_name="breaks")
    packs = models.PositiveSmallIntegerField()
    price_micro = models.BigIntegerField()

    class Meta:
        ordering = ["offer", "packs"]
        constraints = [
            models.UniqueConstraint(fields=["offer", "packs"], name="pricebreak_packs_once"),
            check("pricebreak_of_more_than_one", packs__gte=2, packs__lte=PACKS_MAX, price_micro__gte=0),
        ]

    def __str__(self) -> str:
        return f"{self.offer} from {self.packs}"


class CarriageBand(models.Model):
    """What a supplier's parcel costs to bring from a price, or from a weight, on (`Supplier.carriage_by`)."""

    supplier = models.ForeignKey(Supplier, models.CASCADE, related_name="bands")
    reached = models.BigIntegerField()
    carriage_micro = models.BigIntegerField()

    class Meta:
        ordering = ["supplier", "reached"]
        constraints = [
            models.UniqueConstraint(fields=["supplier", "reached"], name="carriageband_reached_once"),
            check("carriageband_not_below_zero", reached__gte=0, carriage_micro__gte=0),
        ]

    def __str__(self) -> str:
        return f"carriage of {self.supplier} from {self.reached}"


class Order(models.Model):
    """What was ordered of a supplier in one parcel, and the day it is expected on.

    What came of it are its deliveries that stand, so what is taken back is still to come. `void` says that it was
    struck out before anything came. `carriage_micro` is what the parcel was to cost to bring, None where nobody told.
    """

    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="orders")
    placed_on = models.DateField()
    expected_on = models.DateField()
    carriage_micro = models.BigIntegerField(null=True, blank=True)
    reference = models.CharField(max_length=60, blank=True, default="")
    note = models.CharField(max_length=300, blank=True, default="")
    void = models.BooleanField(default=False)

    class Meta:
        ordering = ["-placed_on", "-id"]
        constraints = [
            check("order_expected_after_it_was_placed", expected_on__gte=models.F("placed_on")),
            check("order_carriage_not_below_zero", Q(carriage_micro__isnull=True) | Q(carriage_micro__gte=0)),
        ]

    def __str__(self) -> str:
        return f"Order {self.pk}"


class OrderLine(models.Model):
    """So much of a material in an order; its price without carriage, None where nobody has told it yet.

    Of it `dropped` is not coming: a quantity and no mark, so that a delivery that is taken back later is to come again.
    """

    order = models.ForeignKey(Order, models.CASCADE, related_name="lines")
    material = models.ForeignKey(Material, models.PROTECT, related_name="order_lines")
    quantity = models.BigIntegerField()
    price_micro = models.BigIntegerField(null=True, blank=True)
    dropped = models.BigIntegerField(default=0)
    packs = models.CharField(max_length=120, blank=True, default="")
    place = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["order", "place", "id"]
        constraints = [
            models.UniqueConstraint(fields=["order", "material"], name="orderline_material_once"),
            check("orderline_of_something", quantity__gt=0),
            check("orderline_dropped_of_it", dropped__gte=0, dropped__lte=models.F("quantity")),
            check("orderline_price_not_below_zero", Q(price_micro__isnull=True) | Q(price_micro__gte=0)),
        ]

    def __str__(self) -> str:
        return f"{self.material} in {self.order}"
