"""Refiners with their terms, batches of metal that are with them, and how each was settled."""

from datetime import date, timedelta

from django.db import models
from django.db.models import Q

from inventory.core.refining import Charges, Price, Terms
from studio.kit.models import check
from studio.kit.money import PRICE_UNITS

from .stock import Alloy


def is_by_weight(metal: str) -> bool:
    """Whether refiners pay for a metal by its weight and not by an assay."""
    return metal == Alloy.Metal.BASE


_UNITS = [(unit, unit) for unit in PRICE_UNITS]


class Refiner(models.Model):
    """Somebody who melts, assays and pays for scrap, filings and sweeps."""

    name = models.CharField(max_length=80, unique=True)
    contact = models.CharField(max_length=200, blank=True, default="")
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class RefinerTerms(models.Model):
    """What a refiner pays and charges, from a day until the next terms. Money is millionths of the currency."""

    refiner = models.ForeignKey(Refiner, models.CASCADE, related_name="terms")
    since = models.DateField()
    silver_pct100 = models.PositiveSmallIntegerField(null=True, blank=True)
    gold_pct100 = models.PositiveSmallIntegerField(null=True, blank=True)
    platinum_pct100 = models.PositiveSmallIntegerField(null=True, blank=True)
    palladium_pct100 = models.PositiveSmallIntegerField(null=True, blank=True)
    base_pct100 = models.PositiveSmallIntegerField(null=True, blank=True)
    charge_micro = models.BigIntegerField(default=0)
    rate_micro = models.BigIntegerField(default=0)
    rate_unit = models.CharField(max_length=3, choices=_UNITS, default="ozt")
    assay_fee_micro = models.BigIntegerField(default=0)
    minimum_mg = models.BigIntegerField(default=0)
    usual_days = models.PositiveSmallIntegerField(default=21)

    class Meta:
        ordering = ["-since"]
        verbose_name_plural = "refiners' terms"
        constraints = [
            models.UniqueConstraint(fields=["refiner", "since"], name="terms_one_a_day"),
            check(
                "terms_not_below_zero",
                charge_micro__gte=0,
                rate_micro__gte=0,
                assay_fee_micro__gte=0,
                minimum_mg__gte=0,
            ),
            *(
                check(f"terms_{metal}_at_most_all", Q(**{f"{metal}_pct100__lte": 10_000}))
                for metal in ("silver", "gold", "platinum", "palladium", "base")
            ),
        ]

    def __str__(self) -> str:
        return f"terms of {self.refiner_id} since {self.since}"

    def payable_pct100(self, metal: str) -> int | None:
        """The payable share of a metal, None for one that the refiner does not take."""
        share: int | None = getattr(self, f"{metal}_pct100", None)
        return share

    def of(self, metal: str) -> Terms:
        """The terms for one metal; nothing of it is payable where the refiner does not take it. Base metal goes by its
        weight."""
        return Terms(
            self.payable_pct100(metal) or 0,
            self.charge_micro,
            (self.rate_micro, self.rate_unit),
            self.assay_fee_micro,
            self.minimum_mg,
            is_by_weight(metal),
        )


class Batch(models.Model):
    """Metal that went to a refiner together. It stays the studio's, or its customer's, until it is settled.

    `alloy` is that of which most was sent. The price is what somebody reckoned with on the day, of a unit of fine
    metal; it moves nothing.
    """

    holder = models.OneToOneField("Holder", models.PROTECT, related_name="batch")
    entry = models.ForeignKey("Entry", models.PROTECT, related_name="batches_made")
    refiner = models.ForeignKey(Refiner, models.PROTECT, related_name="batches")
    terms = models.ForeignKey(RefinerTerms, models.SET_NULL, null=True, related_name="batches")
    alloy = models.ForeignKey(Alloy, models.PROTECT, related_name="batches")
    owner = models.ForeignKey("Customer", models.PROTECT, null=True, blank=True, related_name="batches")
    sent_on = models.DateField()
    reference = models.CharField(max_length=60, blank=True, default="")
    price_micro = models.BigIntegerField(null=True, blank=True)
    price_unit = models.CharField(max_length=3, choices=_UNITS, default="ozt")
    usual_days = models.PositiveSmallIntegerField(default=21)
    void = models.BooleanField(default=False)

    class Meta:
        ordering = ["-sent_on", "-id"]
        verbose_name_plural = "batches"
        constraints = [
            check("batch_price_not_below_zero", Q(price_micro__isnull=True) | Q(price_micro__gte=0))
        ]

    def __str__(self) -> str:
        return f"Batch {self.pk}"

    @property
    def price(self) -> Price | None:
        return None if self.price_micro is None else (self.price_micro, self.price_unit)

    @property
    def is_by_weight(self) -> bool:
        """Whether it is paid by its weight, without an assay: bronze, brass and the like."""
        return is_by_weight(self.alloy.metal)

    @property
    def metal_words(self) -> str:
        return str(self.alloy if self.is_by_weight else self.alloy.get_metal_display())

    @property
    def due_on(self) -> date:
        """The day by which it is usually settled."""
        return self.sent_on + timedelta(days=self.usual_days)


class Settlement(models.Model):
    """What a refiner's paper says of a batch or a part of it, and the money that came of it. Money is no stock.

    `received_mg` is the weight as sent that it is for; with `is_rest` all that was left of the batch. `money_micro` is
    below zero where the studio paid. The assay is in hundredths of a part per thousand.
    """

    entry = models.OneToOneField("Entry", models.PROTECT, related_name="settlement")
    batch = models.ForeignKey(Batch, models.PROTECT, related_name="settlements")
    settled_on = models.DateField()
    received_mg = models.BigIntegerField()
    is_rest = models.BooleanField(default=True)
    melted_mg = models.BigIntegerField()
    assay = models.PositiveIntegerField()
    payable_pct100 = models.PositiveSmallIntegerField()
    price_micro = models.BigIntegerField(null=True, blank=True)
    price_unit = models.CharField(max_length=3, choices=_UNITS, default="ozt")
    charge_micro = models.BigIntegerField(default=0)
    assay_fee_micro = models.BigIntegerField(default=0)
    other_micro = models.BigIntegerField(default=0)
    money_micro = models.BigIntegerField(default=0)
    reference = models.CharField(max_length=60, blank=True, default="")
    void = models.BooleanField(default=False)

    class Meta:
        ordering = ["settled_on", "id"]
        constraints = [
            check("settlement_weights", received_mg__gt=0, melted_mg__gte=0),
            check("settlement_shares", assay__lte=100_000, payable_pct100__lte=10_000),
            check("settlement_charges", charge_micro__gte=0, assay_fee_micro__gte=0, other_micro__gte=0),
        ]

    def __str__(self) -> str:
        return f"settlement of batch {self.batch_id}, {self.settled_on}"

    @property
    def price(self) -> Price | None:
        return None if self.price_micro is None else (self.price_micro, self.price_unit)

    @property
    def charges(self) -> Charges:
        return Charges(self.charge_micro, self.assay_fee_micro, self.other_micro)
