"""What metal costs, the studio's rules and channels for a price, and the prices that it asks."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.models import Alloy
from studio.kit.models import OwnFigures, check
from studio.kit.money import PRICE_UNITS

from .policy import Policy

PRECIOUS = [choice for choice in Alloy.Metal.choices if choice[0] != Alloy.Metal.BASE]
"""The metals that have a price by themselves."""

_PER_UNITS = [(unit, unit) for unit in PRICE_UNITS]


class MetalPrice(models.Model):
    """What a metal would cost if bought on a day, as the person typed it: so much for a gram, an ounce troy..."""

    alloy = models.ForeignKey("inventory.Alloy", models.PROTECT, related_name="prices")
    day = models.DateField()
    price_micro = models.BigIntegerField()
    per_unit = models.CharField(max_length=5, choices=_PER_UNITS, default="g")

    class Meta:
        ordering = ["-day", "alloy"]
        constraints = [
            models.UniqueConstraint(fields=["alloy", "day"], name="metalprice_one_a_day"),
            check("metalprice_more_than_nothing", price_micro__gt=0),
        ]

    def __str__(self) -> str:
        return f"{self.alloy} on {self.day}"


class FinePrice(models.Model):
    """What a pure precious metal costs on a day, before any maker has alloyed it."""

    metal = models.CharField(max_length=9, choices=PRECIOUS)
    day = models.DateField()
    price_micro = models.BigIntegerField()
    per_unit = models.CharField(max_length=5, choices=_PER_UNITS, default="ozt")

    class Meta:
        ordering = ["-day", "metal"]
        constraints = [
            models.UniqueConstraint(fields=["metal", "day"], name="fineprice_one_a_day"),
            check("fineprice_more_than_nothing", price_micro__gt=0),
        ]

    def __str__(self) -> str:
        return f"pure {self.metal} on {self.day}"


class AlloyPremium(models.Model):
    """What the maker of an alloy asks on top of its pure metal: a share of that, and so much for each gram."""

    alloy = models.OneToOneField("inventory.Alloy", models.PROTECT, related_name="premium")
    share_pct100 = models.PositiveIntegerField(default=0)
    micro_per_kg = models.BigIntegerField(default=0)

    class Meta:
        ordering = ["alloy__name"]
        constraints = [
            check("alloypremium_share_range", share_pct100__lte=100_000),
            check("alloypremium_not_below_zero", micro_per_kg__gte=0),
        ]

    def __str__(self) -> str:
        return f"premium of {self.alloy}"


class NamedRule(OwnFigures):
    """A way from a cost to what should be left of a price, by the name that the studio gave it.

    `value_hundredths` are hundredths of a per cent of a margin, hundredths of a multiple, or, by parts, hundredths of
    what the materials count; `time_hundredths` and `added_micro` count by parts only.
    """

    class Method(models.TextChoices):
        MARGIN = "margin", "margin, per cent of the price"
        MULTIPLE = "multiple", "multiple of the cost"
        PARTS = "parts", "materials and time, each times a number"

    class Metal(models.TextChoices):
        BOOK = "book", "what it cost"
        TODAY = "today", "what it costs to buy again"
        HIGHER = "higher", "whichever is higher"

    name = models.CharField(max_length=60, unique=True)
    method = models.CharField(max_length=8, choices=Method, default=Method.MULTIPLE)
    value_hundredths = models.PositiveIntegerField(default=200)
    time_hundredths = models.PositiveIntegerField(default=100)
    added_micro = models.BigIntegerField(default=0)
    least_per_hour_micro = models.BigIntegerField(default=0)
    metal = models.CharField(max_length=6, choices=Metal, default=Metal.HIGHER)
    counts_failures = models.BooleanField(default=False)
    step_micro = models.BigIntegerField(default=1_000_000)
    rounding = models.CharField(max_length=7, choices=Policy.Rounding, default=Policy.Rounding.UP)
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            check("namedrule_margin_below_all", ~Q(method="margin", value_hundredths__gte=10_000)),
            check(
                "namedrule_sums_not_below_zero",
                added_micro__gte=0,
                least_per_hour_micro__gte=0,
                step_micro__gt=0,
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Channel(OwnFigures):
    """A way of selling, and all that it keeps of a price.

    `commission_pct100` is a share of the price before tax; `card_pct100` a share of all that is paid, tax included,
    and `card_micro` a sum for each sale. `day_micro` is a fee for a day at which `sold_a_day` pieces usually go.
    """

    class Tax(models.TextChoices):
        INSIDE = "in", "in the price"
        ADDED = "out", "added to the price"
        NONE = "none", "none"

    name = models.CharField(max_length=60, unique=True)
    rule = models.ForeignKey(NamedRule, models.PROTECT, null=True, blank=True, related_name="channels")
    commission_pct100 = models.PositiveIntegerField(default=0)
    card_pct100 = models.PositiveIntegerField(default=0)
    card_micro = models.BigIntegerField(default=0)
    day_micro = models.BigIntegerField(default=0)
    sold_a_day = models.PositiveIntegerField(default=1)
    shipping_micro = models.BigIntegerField(default=0)
    tax = models.CharField(max_length=4, choices=Tax, default=Tax.INSIDE)
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            check("channel_shares_below_all", commission_pct100__lt=10_000, card_pct100__lt=10_000),
            check("channel_sums_not_below_zero", card_micro__gte=0, day_micro__gte=0, shipping_micro__gte=0),
            check("channel_sells_something", sold_a_day__gte=1),
        ]

    def __str__(self) -> str:
        return self.name


class AskedPrice(models.Model):
    """What is asked for a thing from a day on, as it is told on its tag. The newest holds; earlier ones are history.

    What is priced is one of the columns that may be empty: each kind of thing has its own. That of a design is for a
    piece in what the design is usually cast in.
    """

    piece = models.ForeignKey(
        "inventory.Piece", models.PROTECT, null=True, blank=True, related_name="asked_prices"
    )
    design = models.ForeignKey(
        "inventory.Design", models.PROTECT, null=True, blank=True, related_name="asked_prices"
    )
    day = models.DateField()
    price_micro = models.BigIntegerField()
    reason = models.CharField(max_length=200, blank=True, default="")
    recorded_at = models.DateTimeField(auto_now_add=True)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["-day", "-id"]
        indexes = [
            models.Index(fields=["piece", "-day", "-id"], name="askedprice_newest"),
            models.Index(fields=["design", "-day", "-id"], name="askedprice_newest_of_design"),
        ]
        constraints = [
            check(
                "askedprice_of_one_thing",
                Q(piece__isnull=False, design__isnull=True) | Q(piece__isnull=True, design__isnull=False),
            ),
            check("askedprice_more_than_nothing", price_micro__gt=0),
        ]

    def __str__(self) -> str:
        return f"{self.piece or self.design} from {self.day}"


class CastingTerms(models.Model):
    """What casting for others costs them: for each gram cast, each flask and each mould, and their metal.

    `metal_pct100` comes on top of what the metal costs to buy again, where they buy it from the studio.
    """

    name = models.CharField(max_length=60, unique=True)
    gram_micro_per_kg = models.BigIntegerField(default=0)
    flask_micro = models.BigIntegerField(default=0)
    mould_micro = models.BigIntegerField(default=0)
    metal_pct100 = models.PositiveIntegerField(default=0)
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "casting terms"
        constraints = [
            check(
                "castingterms_not_below_zero",
                gram_micro_per_kg__gte=0,
                flask_micro__gte=0,
                mould_micro__gte=0,
            ),
            check("castingterms_metal_share_range", metal_pct100__lte=10_000),
        ]

    def __str__(self) -> str:
        return self.name


class PricePractice(OwnFigures):
    """How the studio looks at its prices: one row.

    `floor_rule` says what a price must at least leave, of what is asked through `usual_channel`; without a rule, the
    cost with metal of today.
    """

    old_price_days = models.PositiveSmallIntegerField(default=14)
    failed_days = models.PositiveSmallIntegerField(default=365)
    floor_rule = models.ForeignKey(NamedRule, models.PROTECT, null=True, blank=True, related_name="+")
    usual_channel = models.ForeignKey(Channel, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        constraints = [check("pricepractice_only_one", pk=1)]

    def __str__(self) -> str:
        return "how prices are looked at"
