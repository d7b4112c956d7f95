"""The studio's own settings that touch stock. What a piece is charged is policy and lives in costing."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q

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
    holding_pct100 = models.PositiveIntegerField(default=1000)
    trusted_days = models.PositiveSmallIntegerField(default=30)
    # Of each kind of reclaim: whether it may be melted as it is, and the share of its weight that is metal.
    melt_clean = models.BooleanField(default=True)
    melt_failed = models.BooleanField(default=False)
    melt_spill = models.BooleanField(default=False)
    melt_filings = models.BooleanField(default=False)
    melt_sweeps = models.BooleanField(default=False)
    metal_clean_pct100 = models.PositiveIntegerField(default=10000)
    metal_failed_pct100 = models.PositiveIntegerField(default=9000)
    metal_spill_pct100 = models.PositiveIntegerField(default=9500)
    metal_filings_pct100 = models.PositiveIntegerField(default=8500)
    metal_sweeps_pct100 = models.PositiveIntegerField(default=2000)
    # Whether the clean reclaim of a cast goes into the open tin of its alloy as the cast is weighed out.
    fills_tins = models.BooleanField(default=False)

    class Meta:
        constraints = [
            check("studio_only_one", pk=1),
            check("studio_fresh_at_most_all", least_fresh_pct100__lte=10000),
            check("studio_money_decimals", money_decimals__lte=4),
            *(
                check(f"studio_metal_{kind}_at_most_all", Q(**{f"metal_{kind}_pct100__lte": 10000}))
                for kind in ("clean", "failed", "spill", "filings", "sweeps")
            ),
        ]

    @property
    def penny_micro(self) -> int:
        """The last unit of money that the studio's pages show, in millionths: a hundredth is 10,000."""
        return int(10 ** (6 - self.money_decimals))

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        if not (len(self.currency) == 3 and self.currency.isascii() and self.currency.isalpha()):
            raise ValidationError({"currency": "Write the currency as three letters, such as GBP or EUR."})
