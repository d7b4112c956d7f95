"""Stock counts: the day somebody went round the shelves, and what was found of each lot."""

from django.conf import settings
from django.db import models

from studio.kit.models import check


class StockCount(models.Model):
    """One round of counting. Until its day nothing is unexplained of the lots in it."""

    day = models.DateField()
    kept_in = models.CharField(max_length=60, blank=True, default="")
    is_blind = models.BooleanField(default=False)
    note = models.CharField(max_length=500, blank=True, default="")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-day", "-id"]

    def __str__(self) -> str:
        return f"Count {self.pk}"


class CountLine(models.Model):
    """One lot of a count: what the book had and what was there; the entry that put it right, None where they agreed."""

    class Reason(models.TextChoices):
        SCALE = "scale", "no more than the scale can show"
        USED = "used", "used and not written down"
        SPILT = "spilt", "spilt, swept or thrown away"
        SLIP = "slip", "an earlier weight was written wrong"
        MIXED = "mixed", "mixed up with another lot"
        UNKNOWN = "unknown", "nobody knows"

    count = models.ForeignKey(StockCount, models.PROTECT, related_name="lines")
    lot = models.ForeignKey("inventory.Lot", models.PROTECT, related_name="count_lines")
    entry = models.OneToOneField("inventory.Entry", models.PROTECT, null=True, related_name="count_line")
    book_quantity = models.BigIntegerField()
    counted = models.BigIntegerField()
    reason = models.CharField(max_length=7, choices=Reason, blank=True, default="")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["count", "lot"], name="countline_lot_once"),
            check("countline_not_below_zero", book_quantity__gte=0, counted__gte=0),
        ]

    def __str__(self) -> str:
        return f"{self.lot} in {self.count}"

    @property
    def difference(self) -> int:
        return self.counted - self.book_quantity
