"""The studio's own settings that touch stock. What a piece is charged is policy and lives in costing."""

from django.core.exceptions import ValidationError
from django.db import models

from studio.kit.models import OwnFigures, check


class Studio(OwnFigures):
    """The one studio of this database: its name, its scale and its rules for metal and powder."""

    name = models.CharField(max_length=60)
    currency = models.CharField(max_length=3, default="GBP")
    money_decimals = models.PositiveSmallIntegerField(default=2)
    scale_division_mg = models.PositiveIntegerField(default=10)
    least_fresh_pct100 = models.PositiveIntegerField(default=5000)
    most_melts_milli = models.PositiveIntegerField(default=4000)
    reorder_certainty_pct100 = models.PositiveIntegerField(default=9500)
    reorder_weeks = models.PositiveSmallIntegerField(default=26)
    trusted_days = models.PositiveSmallIntegerField(default=30)

    class Meta:
        constraints = [
            check("studio_only_one", pk=1),
            check("studio_fresh_at_most_all", least_fresh_pct100__lte=10000),
            check("studio_money_decimals", money_decimals__lte=4),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        if not (len(self.currency) == 3 and self.currency.isascii() and self.currency.isalpha()):
            raise ValidationError({"currency": "Write the currency as three letters, such as GBP or EUR."})
