"""Policy: how the studio charges its pieces."""

from django.db import models
from django.db.models import Q

from studio.kit.models import OwnFigures, check


class Policy(OwnFigures):
    """The studio's cost rules, in force from a day until the next ones.

    A cast is charged by the rules of its own day, so that a new hourly rate does not rewrite last year.
    """

    class Basis(models.TextChoices):
        GRAMS = "grams", "by grams as cast"
        EQUALLY = "equally", "the same for each piece"
        VOLUME = "volume", "by volume of the pattern"

    class Method(models.TextChoices):
        MARGIN = "margin", "margin, per cent of the price"
        MULTIPLE = "multiple", "multiple of the cost"

    class Rounding(models.TextChoices):
        UP = "up", "up"
        NEAREST = "nearest", "to the nearest"

    from_day = models.DateField(unique=True)
    normal_loss_pct100 = models.PositiveIntegerField(default=100)
    reclaim_resale_micro_per_kg = models.BigIntegerField(null=True, blank=True)
    energy_micro_per_kwh = models.BigIntegerField(default=0)
    hourly_rate_micro = models.BigIntegerField(default=0)
    overhead_per_hour_micro = models.BigIntegerField(default=0)
    consumables_per_cast_micro = models.BigIntegerField(default=0)
    consumables_per_piece_micro = models.BigIntegerField(default=0)
    loss_basis = models.CharField(max_length=7, choices=Basis, default=Basis.GRAMS)
    powder_basis = models.CharField(max_length=7, choices=Basis, default=Basis.VOLUME)
    pattern_basis = models.CharField(max_length=7, choices=Basis, default=Basis.VOLUME)
    energy_basis = models.CharField(max_length=7, choices=Basis, default=Basis.VOLUME)
    wear_basis = models.CharField(max_length=7, choices=Basis, default=Basis.GRAMS)
    consumables_basis = models.CharField(max_length=7, choices=Basis, default=Basis.EQUALLY)
    time_basis = models.CharField(max_length=7, choices=Basis, default=Basis.EQUALLY)
    wholesale_method = models.CharField(max_length=8, choices=Method, default=Method.MULTIPLE)
    wholesale_hundredths = models.PositiveIntegerField(default=200)
    retail_method = models.CharField(max_length=8, choices=Method, default=Method.MULTIPLE)
    retail_hundredths = models.PositiveIntegerField(default=400)
    tax_pct100 = models.PositiveIntegerField(default=0)
    price_step_micro = models.BigIntegerField(default=1_000_000)
    price_rounding = models.CharField(max_length=7, choices=Rounding, default=Rounding.UP)

    class Meta:
        ordering = ["-from_day"]
        verbose_name_plural = "policies"
        constraints = [
            check("policy_shares_at_most_all", normal_loss_pct100__lte=10000, tax_pct100__lte=10000),
            check(
                "policy_rates_not_below_zero",
                energy_micro_per_kwh__gte=0,
                hourly_rate_micro__gte=0,
                overhead_per_hour_micro__gte=0,
                consumables_per_cast_micro__gte=0,
                consumables_per_piece_micro__gte=0,
                price_step_micro__gt=0,
            ),
            check(
                "policy_margin_below_all",
                ~Q(wholesale_method="margin", wholesale_hundredths__gte=10000)
                & ~Q(retail_method="margin", retail_hundredths__gte=10000),
            ),
        ]

    def __str__(self) -> str:
        return f"cost rules from {self.from_day}"
