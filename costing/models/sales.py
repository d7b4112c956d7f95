"""Sales with their money, what is paid back, pieces that are out to be sold, and bills to customers.

Money received is no stock: it stands here, beside the entry by which a piece left. Whether a line counts is decided
by that entry's standing, never by a copy (`costing/queries/sales.py`).
"""

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.kit.models import OwnFigures, check

from .prices import Channel


class Outing(models.Model):
    """Pieces that went out together to be sold: to a fair for a day, or to a gallery until they come back."""

    class Kind(models.TextChoices):
        FAIR = "fair", "fair"
        GALLERY = "gallery", "gallery"

    kind = models.CharField(max_length=7, choices=Kind)
    channel = models.ForeignKey(Channel, models.PROTECT, related_name="outings")
    name = models.CharField(max_length=80)
    day = models.DateField()
    note = models.CharField(max_length=500, blank=True, default="")
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+")

    class Meta:
        ordering = ["-day", "-id"]

    def __str__(self) -> str:
        return self.name


class OutPiece(models.Model):
    """A piece that is out, and at which price. It is out until it comes back or is sold from there."""

    outing = models.ForeignKey(Outing, models.CASCADE, related_name="lines")
    piece = models.ForeignKey("inventory.Piece", models.PROTECT, related_name="outings")
    price_micro = models.BigIntegerField(null=True, blank=True)
    back_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["outing", "piece"], name="outpiece_once_an_outing"),
            check("outpiece_price_not_below_zero", Q(price_micro__isnull=True) | Q(price_micro__gte=0)),
        ]

    def __str__(self) -> str:
        return f"{self.piece} at {self.outing}"


class Sale(models.Model):
    """Pieces that were sold together through a channel, and what went for the sale as a whole.

    `tax_pct100` is the rate of its day; `tax_by_line` says how it was rounded. `is_owed` tells that somebody else
    took the money, who owes it until `paid_on`.
    """

    channel = models.ForeignKey(Channel, models.PROTECT, related_name="sales")
    outing = models.ForeignKey(Outing, models.PROTECT, null=True, blank=True, related_name="sales")
    day = models.DateField()
    buyer = models.CharField(max_length=120, blank=True, default="")
    note = models.CharField(max_length=500, blank=True, default="")
    tax = models.CharField(max_length=4, choices=Channel.Tax)
    tax_pct100 = models.PositiveIntegerField()
    tax_by_line = models.BooleanField(default=False)
    is_owed = models.BooleanField(default=False)
    paid_on = models.DateField(null=True, blank=True)
    recorded_at = models.DateTimeField(auto_now_add=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+")

    class Meta:
        ordering = ["-day", "-id"]
        constraints = [
            check("sale_paid_only_what_was_owed", Q(is_owed=True) | Q(paid_on__isnull=True)),
            check("sale_tax_at_most_all", tax_pct100__lte=10_000),
        ]

    def __str__(self) -> str:
        return f"Sale {self.pk}"


class SaleLine(models.Model):
    """One piece of a sale. `entry` is that by which it left, as it was first posted; one written again stands for it.

    Discount, tax and fees are its shares of those of the sale.
    """

    sale = models.ForeignKey(Sale, models.PROTECT, related_name="lines")
    piece = models.ForeignKey("inventory.Piece", models.PROTECT, related_name="sale_lines")
    entry = models.OneToOneField("inventory.Entry", models.PROTECT, related_name="sale_line")
    asked_micro = models.BigIntegerField(null=True, blank=True)
    price_micro = models.BigIntegerField()
    discount_micro = models.BigIntegerField(default=0)
    paid_micro = models.BigIntegerField()
    tax_micro = models.BigIntegerField(default=0)
    commission_micro = models.BigIntegerField(default=0)
    card_micro = models.BigIntegerField(default=0)
    day_micro = models.BigIntegerField(default=0)
    shipping_micro = models.BigIntegerField(default=0)

    class Meta:
        ordering = ["id"]
        constraints = [
            check(
                "saleline_not_below_zero",
                price_micro__gte=0,
                discount_micro__gte=0,
                paid_micro__gte=0,
                tax_micro__gte=0,
                commission_micro__gte=0,
                card_micro__gte=0,
                day_micro__gte=0,
                shipping_micro__gte=0,
            ),
            check(
                "saleline_parts_of_it",
                discount_micro__lte=models.F("price_micro"),
                tax_micro__lte=models.F("paid_micro"),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece} in {self.sale}"

    @property
    def fees_micro(self) -> int:
        return self.commission_micro + self.card_micro + self.day_micro + self.shipping_micro

    @property
    def left_micro(self) -> int:
        """Before tax and after every fee."""
        return self.paid_micro - self.tax_micro - self.fees_micro


class Refund(models.Model):
    """What of a line was paid back, and the fees that came back with it. `entry` is the piece's return, if it came."""

    line = models.ForeignKey(SaleLine, models.PROTECT, related_name="refunds")
    entry = models.OneToOneField("inventory.Entry", models.PROTECT, null=True, related_name="refund")
    day = models.DateField()
    amount_micro = models.BigIntegerField()
    tax_micro = models.BigIntegerField(default=0)
    fees_back_micro = models.BigIntegerField(default=0)
    reason = models.CharField(max_length=200, blank=True, default="")
    void = models.BooleanField(default=False)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+")

    class Meta:
        ordering = ["day", "id"]
        constraints = [
            check("refund_not_below_zero", amount_micro__gte=0, tax_micro__gte=0, fees_back_micro__gte=0),
            check("refund_tax_in_it", tax_micro__lte=models.F("amount_micro")),
        ]

    def __str__(self) -> str:
        return f"refund of {self.line}"


class CustomerBill(models.Model):
    """A bill as it was handed out, by its number in its year. It never changes: one that was wrong is struck out.

    Its lines are a copy: a paper that a customer has says the same for good.
    """

    year = models.PositiveSmallIntegerField()
    number = models.PositiveIntegerField()
    sale = models.ForeignKey(Sale, models.PROTECT, related_name="bills")
    day = models.DateField()
    sold_on = models.DateField()
    buyer = models.CharField(max_length=120)
    address = models.CharField(max_length=300, blank=True, default="")
    sender = models.CharField(max_length=300, blank=True, default="")
    tax_number = models.CharField(max_length=40, blank=True, default="")
    tax_pct100 = models.PositiveIntegerField(default=0)
    tax_by_line = models.BooleanField(default=False)
    is_paid = models.BooleanField(default=True)
    struck_out_on = models.DateField(null=True, blank=True)
    struck_out_why = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        ordering = ["-year", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["year", "number"], name="customerbill_number_once_a_year"),
            check("customerbill_numbers_begin_at_one", number__gte=1),
        ]

    def __str__(self) -> str:
        return f"Bill {self.year}-{self.number:03}"


class BillRow(models.Model):
    """A line of a bill: before tax, and its tax."""

    bill = models.ForeignKey(CustomerBill, models.CASCADE, related_name="rows")
    what = models.CharField(max_length=200)
    before_tax_micro = models.BigIntegerField()
    tax_micro = models.BigIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [check("billrow_not_below_zero", before_tax_micro__gte=0, tax_micro__gte=0)]

    def __str__(self) -> str:
        return self.what


class SalesPractice(OwnFigures):
    """How the studio sells: one row. `sender` and `tax_number` stand on its bills."""

    owed_days = models.PositiveSmallIntegerField(default=30)
    tax_by_line = models.BooleanField(default=False)
    sender = models.CharField(max_length=300, blank=True, default="")
    tax_number = models.CharField(max_length=40, blank=True, default="")

    class Meta:
        constraints = [check("salespractice_only_one", pk=1)]

    def __str__(self) -> str:
        return "how the studio sells"
