"""What others do for pieces, for money: plating, hallmarking, setting, a chain bought for one."""

from django.db import models

from studio.kit.models import check


class OutsideWork(models.Model):
    """A bill for work or parts from outside, or a sum on each piece; `shares` say what each piece carries of it."""

    class Kind(models.TextChoices):
        PLATING = "plate", "plating"
        HALLMARK = "mark", "hallmarking"
        SETTING = "set", "setting"
        CHAIN = "chain", "chain"
        OTHER = "other", "other work"

    class Basis(models.TextChoices):
        EACH = "each", "so much for each piece"
        EQUALLY = "equal", "one bill, shared equally"
        MASS = "mass", "one bill, shared by mass"

    kind = models.CharField(max_length=5, choices=Kind, default=Kind.PLATING)
    words = models.CharField(max_length=120, blank=True, default="")
    day = models.DateField()
    supplier = models.ForeignKey(
        "inventory.Supplier", models.PROTECT, null=True, blank=True, related_name="outside_works"
    )
    basis = models.CharField(max_length=5, choices=Basis, default=Basis.EACH)
    amount_micro = models.BigIntegerField()

    class Meta:
        ordering = ["-day", "-id"]
        constraints = [check("outsidework_more_than_nothing", amount_micro__gt=0)]

    def __str__(self) -> str:
        return self.words or self.get_kind_display()


class OutsideShare(models.Model):
    """What one piece carries of it, in millionths of the currency."""

    work = models.ForeignKey(OutsideWork, models.CASCADE, related_name="shares")
    piece = models.ForeignKey("inventory.Piece", models.PROTECT, related_name="outside_shares")
    amount_micro = models.BigIntegerField()

    class Meta:
        ordering = ["work", "piece"]
        constraints = [
            models.UniqueConstraint(fields=["work", "piece"], name="outsideshare_piece_once"),
            check("outsideshare_not_below_zero", amount_micro__gte=0),
        ]

    def __str__(self) -> str:
        return f"{self.work}: {self.piece}"
