"""Casts, the trees they grew from, and the pieces that came out."""

from django.db import models
from django.db.models import Q

from studio.kit.models import check


class Task(models.TextChoices):
    """What is done at the bench, in the order in which it is done."""

    CUT = "cut", "cut off"
    FILE = "file", "file"
    TUMBLE = "tumble", "tumble"
    POLISH = "polish", "polish"
    SET = "set", "set"
    FINISH = "finish", "finish"


class Cast(models.Model):
    """One flask poured once. Its metal stands in its crucible until the weights after the pour are in."""

    class Outcome(models.TextChoices):
        GOOD = "good", "pieces came out"
        FAILED = "failed", "the whole cast failed"
        UNPOURED = "none", "not poured"

    number = models.PositiveIntegerField(unique=True)
    title = models.CharField(max_length=120)
    day = models.DateField()
    alloy = models.ForeignKey("Alloy", models.PROTECT, related_name="casts")
    owner = models.ForeignKey("Customer", models.PROTECT, null=True, blank=True, related_name="casts")
    crucible_holder = models.OneToOneField("Holder", models.PROTECT, related_name="cast")
    flask = models.ForeignKey("Equipment", models.PROTECT, null=True, blank=True, related_name="+")
    crucible = models.ForeignKey("Equipment", models.PROTECT, null=True, blank=True, related_name="+")
    machine = models.ForeignKey("Equipment", models.PROTECT, null=True, blank=True, related_name="+")
    pump = models.ForeignKey("Equipment", models.PROTECT, null=True, blank=True, related_name="+")
    firing = models.ForeignKey("Firing", models.PROTECT, null=True, blank=True, related_name="casts")
    water_mg = models.BigIntegerField(null=True, blank=True)
    metal_c = models.PositiveSmallIntegerField(null=True, blank=True)
    flask_c = models.PositiveSmallIntegerField(null=True, blank=True)
    vacuum_inhg_tenths = models.PositiveSmallIntegerField(null=True, blank=True)
    # Some of its charge was of a fineness that nobody has proved; how little and how much fine metal its charge holds,
    # where more is known than the book says of each portion.
    fineness_is_guess = models.BooleanField(default=False)
    fine_low_ug = models.BigIntegerField(null=True)
    fine_high_ug = models.BigIntegerField(null=True)
    # The alloy that it was meant to be, where its charge missed that and is recorded for what it is.
    meant_alloy = models.ForeignKey("Alloy", models.PROTECT, null=True, related_name="+", db_index=False)
    poured = models.BooleanField(default=False)
    pour_note = models.CharField(max_length=500, blank=True, default="")
    outcome = models.CharField(max_length=6, choices=Outcome, blank=True, default="")
    closed_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=2000, blank=True, default="")

    class Meta:
        ordering = ["-number"]
        indexes = [
            models.Index(fields=["day", "id"], name="cast_by_day"),
            models.Index(fields=["closed_on"], name="cast_by_closing"),
        ]
        constraints = [
            check(
                "cast_closed_has_outcome",
                Q(closed_on__isnull=True, outcome="") | (Q(closed_on__isnull=False) & ~Q(outcome="")),
            ),
        ]

    def __str__(self) -> str:
        return f"Cast {self.number}"

    @property
    def is_closed(self) -> bool:
        return self.closed_on is not None


class TreePart(models.Model):
    """What a tree is made of: a pattern material, how much of it, and the lot it came from if that is known."""

    cast = models.ForeignKey(Cast, models.PROTECT, related_name="tree_parts")
    material = models.ForeignKey("Material", models.PROTECT, related_name="+")
    lot = models.ForeignKey("Lot", models.PROTECT, null=True, blank=True, related_name="+")
    entry = models.ForeignKey("Entry", models.PROTECT, null=True, related_name="tree_parts")
    quantity = models.BigIntegerField()
    void = models.BooleanField(default=False)

    class Meta:
        ordering = ["id"]
        constraints = [check("treepart_more_than_nothing", quantity__gt=0)]

    def __str__(self) -> str:
        return f"{self.material} in {self.cast}"


class Piece(models.Model):
    """One casting, from cut-off to sale."""

    class State(models.TextChoices):
        CAST = "cast", "as cast"
        FINISHED = "finished", "finished"
        SOLD = "sold", "sold"
        MELTED = "melted", "back in the pot"
        HANDED = "handed", "with its owner"

    cast = models.ForeignKey(Cast, models.PROTECT, related_name="pieces")
    entry = models.ForeignKey("Entry", models.PROTECT, related_name="pieces_made")
    holder = models.OneToOneField("Holder", models.PROTECT, related_name="piece")
    number = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=120)
    design = models.ForeignKey("Design", models.PROTECT, null=True, blank=True, related_name="pieces")
    as_cast_mg = models.BigIntegerField()
    pattern_mass_mg = models.BigIntegerField(null=True, blank=True)
    pattern_material = models.ForeignKey("Material", models.PROTECT, null=True, blank=True, related_name="+")
    weighed_with = models.PositiveSmallIntegerField(default=1)
    state = models.CharField(max_length=8, choices=State, default=State.CAST)
    state_on = models.DateField()
    # Finished and found to weigh what it did: nothing moved, so no entry tells it.
    finished_whole_on = models.DateField(null=True, blank=True)
    void = models.BooleanField(default=False)

    class Meta:
        ordering = ["-cast__number", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["cast", "number"], condition=Q(void=False), name="piece_number_once_in_cast"
            ),
            check("piece_weighs_something", as_cast_mg__gt=0),
        ]

    def __str__(self) -> str:
        return self.name


class BenchTime(models.Model):
    """Time spent on a cast, on one piece of it or on a tray of them: a record of use that costing reads, not stock.

    With `shares` it was spent on a tray of pieces together, which share it to the second.
    """

    class Basis(models.TextChoices):
        EQUALLY = "equal", "equally"
        MASS = "mass", "by mass"

    cast = models.ForeignKey(Cast, models.PROTECT, related_name="bench_times")
    piece = models.ForeignKey(Piece, models.PROTECT, null=True, blank=True, related_name="bench_times")
    day = models.DateField()
    minutes = models.PositiveIntegerField()
    task = models.CharField(max_length=6, choices=Task, blank=True, default="")
    what = models.CharField(max_length=120, blank=True, default="")
    basis = models.CharField(max_length=5, choices=Basis, blank=True, default="")

    class Meta:
        ordering = ["day", "id"]
        constraints = [check("benchtime_minutes_range", minutes__gte=1, minutes__lte=10080)]

    def __str__(self) -> str:
        return f"{self.minutes} min"

    @property
    def doing(self) -> str:
        """ "polish, the backs" """
        return ", ".join(part for part in (self.get_task_display(), self.what) if part)


class BenchShare(models.Model):
    """What one piece of a tray carries of the time that was spent on all of them."""

    time = models.ForeignKey(BenchTime, models.CASCADE, related_name="shares")
    piece = models.ForeignKey(Piece, models.PROTECT, related_name="bench_shares")
    seconds = models.PositiveIntegerField()

    class Meta:
        ordering = ["time", "piece"]
        constraints = [models.UniqueConstraint(fields=["time", "piece"], name="benchshare_piece_once")]

    def __str__(self) -> str:
        return f"{self.seconds} s of {self.time}"
