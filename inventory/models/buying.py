"""Whom the studio buys from and casts for, and what arrived together."""

from datetime import date, timedelta

from django.db import models

from studio.kit.models import check


class Supplier(models.Model):
    """Whom the studio buys from, and on what terms beside the prices. `bands` say what a parcel costs to bring."""

    class CarriageBy(models.TextChoices):
        VALUE = "value", "by what the goods cost"
        MASS = "mass", "by weight"

    name = models.CharField(max_length=80, unique=True)
    lead_time_days = models.PositiveSmallIntegerField(default=7)
    # How much earlier or later it may come; nobody said where there is none.
    lead_time_spread_days = models.PositiveSmallIntegerField(null=True, blank=True)
    contact = models.CharField(max_length=200, blank=True, default="")
    carriage_by = models.CharField(max_length=5, choices=CarriageBy, default=CarriageBy.VALUE)
    least_micro = models.BigIntegerField(default=0)
    duty_pct100 = models.PositiveIntegerField(default=0)
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [check("supplier_terms_not_below_zero", least_micro__gte=0, duty_pct100__lte=100_000)]

    def __str__(self) -> str:
        return self.name

    def expect(self, placed_on: date) -> date:
        """When what is ordered on a day comes, as it usually goes."""
        return placed_on + timedelta(days=self.lead_time_days)


class Customer(models.Model):
    """Somebody whose own metal the studio casts. Their metal is never mixed with the studio's and has no cost."""

    name = models.CharField(max_length=80, unique=True)
    contact = models.CharField(max_length=200, blank=True, default="")
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Receipt(models.Model):
    """What a customer was told in writing when their metal was taken in: what it was, and what was taken out of it."""

    lot = models.OneToOneField("Lot", models.PROTECT, related_name="receipt")
    what = models.CharField(max_length=120, blank=True, default="")
    stones = models.CharField(max_length=300, blank=True, default="")

    def __str__(self) -> str:
        return f"receipt {self.lot_id}"


class TopUp(models.Model):
    """The price at which some of the studio's metal became a customer's. Money is no stock: it stands beside."""

    entry = models.OneToOneField("Entry", models.PROTECT, related_name="top_up")
    price_micro = models.BigIntegerField()

    class Meta:
        constraints = [check("topup_price_not_below_zero", price_micro__gte=0)]

    def __str__(self) -> str:
        return f"price of entry {self.entry_id}"


class Delivery(models.Model):
    """Lots that arrived together and share carriage, duty and the tax that cannot be claimed back."""

    class SpreadBy(models.TextChoices):
        VALUE = "value", "by price"
        MASS = "mass", "by mass"

    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="deliveries")
    entry = models.OneToOneField("Entry", models.PROTECT, related_name="delivery")
    order = models.ForeignKey("Order", models.PROTECT, null=True, blank=True, related_name="deliveries")
    received_on = models.DateField()
    reference = models.CharField(max_length=60, blank=True, default="")
    carriage_micro = models.BigIntegerField(default=0)
    duty_micro = models.BigIntegerField(default=0)
    tax_micro = models.BigIntegerField(default=0)
    spread_by = models.CharField(max_length=5, choices=SpreadBy, default=SpreadBy.VALUE)
    void = models.BooleanField(default=False)

    class Meta:
        ordering = ["-received_on", "-id"]
        indexes = [models.Index(fields=["-received_on", "-id"], name="delivery_newest_first")]
        verbose_name_plural = "deliveries"

    def __str__(self) -> str:
        return f"Delivery {self.pk}"

    @property
    def charges_micro(self) -> int:
        return self.carriage_micro + self.duty_micro + self.tax_micro


class BillLine(models.Model):
    """What a bill that came later, or was mended, changed in the cost of one lot; less is below zero.

    The movements say where the money went, to what was left of the lot or to late bills; this says for which lot and
    what for.
    """

    entry = models.ForeignKey("inventory.Entry", models.PROTECT, related_name="bill_lines")
    lot = models.ForeignKey("inventory.Lot", models.PROTECT, related_name="bill_lines")
    price_micro = models.BigIntegerField(default=0)
    charges_micro = models.BigIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["entry", "lot"], name="billline_lot_once")]

    def __str__(self) -> str:
        return f"{self.lot} in a bill"

    @property
    def total_micro(self) -> int:
        return self.price_micro + self.charges_micro
