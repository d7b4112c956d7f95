"""Casting days before they happen: schedules, the studio's practice, plans, and what was done when.

A plan is an intention and not stock: it moves nothing. What it holds is promised, until its cast is begun or
the hold is let go by hand.
"""

import uuid
from datetime import UTC, datetime, time

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.core.clock import YEAR_LEAST, YEAR_MOST
from inventory.core.kiln_rates import RatesOfKilns
from inventory.core.replanning import Turn
from inventory.core.schedule import LARGEST_STEP_C
from studio.kit.models import OwnFigures, check

#: A year wider than forms take it, for a day is moved, too. Far beyond, the calendar ends before all of a day is in it.
_NONE_BEFORE, _NONE_FROM = (datetime(year, 1, 1, tzinfo=UTC) for year in (YEAR_LEAST - 1, YEAR_MOST + 2))


class DayPractice(OwnFigures):
    """How this studio does a casting day: what every plan starts from. One row, or none and then the defaults.

    Lengths are micrometres, working times seconds, temperatures C, shares hundredths of a per cent.
    """

    button_pct100 = models.PositiveIntegerField(default=1000)
    button_least_mg = models.PositiveIntegerField(default=5_000)
    over_mix_pct100 = models.PositiveIntegerField(default=1000)
    bowl_powder_mg = models.PositiveIntegerField(default=2_000_000)
    wall_clearance_um = models.PositiveIntegerField(default=6_000)
    top_clearance_um = models.PositiveIntegerField(default=12_000)
    mix_s = models.PositiveSmallIntegerField(default=240)
    vacuum_bowl_s = models.PositiveSmallIntegerField(default=60)
    fill_s = models.PositiveSmallIntegerField(default=60)
    vacuum_flask_s = models.PositiveSmallIntegerField(default=120)
    standing_minutes = models.PositiveSmallIntegerField(default=120)
    room_c = models.PositiveSmallIntegerField(default=20)
    # What the kiln does when it is only told where to; None while nobody has measured it.
    climb_c_per_hour = models.PositiveSmallIntegerField(null=True, blank=True)
    fall_c_per_hour = models.PositiveSmallIntegerField(null=True, blank=True)
    largest_step_c = models.PositiveSmallIntegerField(default=LARGEST_STEP_C)
    crucible_c = models.PositiveSmallIntegerField(null=True, blank=True)
    lead_minutes = models.PositiveSmallIntegerField(default=20)
    quench_minutes = models.PositiveSmallIntegerField(default=15)
    # Flasks poured in turn: out of the kiln before the pour, vacuum after it, another crucible, cooling outside.
    out_minutes = models.PositiveSmallIntegerField(default=1)
    table_minutes = models.PositiveSmallIntegerField(default=3)
    change_minutes = models.PositiveSmallIntegerField(default=5)
    cooling_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    # What the metal loses from the crucible to the mould; None while nobody has measured it.
    fall_tenths_c_s = models.PositiveSmallIntegerField(null=True, blank=True)
    carry_s = models.PositiveSmallIntegerField(null=True, blank=True)
    altitude_m = models.PositiveSmallIntegerField(null=True, blank=True)
    night_from = models.TimeField(default=time(22))
    night_to = models.TimeField(default=time(7))
    alarm_before_minutes = models.PositiveSmallIntegerField(default=10)
    smallest_portion_mg = models.PositiveIntegerField(default=100)

    #: What its kilns have shown, no column: kept here once it was read, so that a page of many plans asks once.
    rates_of_kilns: RatesOfKilns | None = None

    class Meta:
        constraints = [check("daypractice_only_one", pk=1)]

    def __str__(self) -> str:
        return "how we plan a casting day"


class Schedule(models.Model):
    """A kiln's climbs and holds, for a powder, a pattern material and flasks up to a size.

    Without a size nobody knows how long a mould's middle takes, and a plan never chooses it by itself.
    """

    name = models.CharField(max_length=60, unique=True)
    powder = models.ForeignKey("Material", models.PROTECT, null=True, blank=True, related_name="schedules")
    pattern = models.ForeignKey(
        "Material", models.PROTECT, null=True, blank=True, related_name="schedules_for_patterns"
    )
    largest_diameter_um = models.PositiveIntegerField(null=True, blank=True)
    note = models.CharField(max_length=500, blank=True, default="")
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class ScheduleStep(models.Model):
    """A climb or a fall to a temperature, in so many minutes or so fast, and how long it is held there.

    Neither minutes nor a rate: as fast as the kiln can.
    """

    schedule = models.ForeignKey(Schedule, models.CASCADE, related_name="steps")
    place = models.PositiveSmallIntegerField()
    label = models.CharField(max_length=60, blank=True, default="")
    target_c = models.PositiveSmallIntegerField()
    climb_minutes = models.PositiveSmallIntegerField(default=0)
    climb_c_per_hour = models.PositiveSmallIntegerField(null=True, blank=True)
    hold_minutes = models.PositiveSmallIntegerField(default=0)
    # Share of this step's time that the kiln heats; None takes the kiln's own.
    on_pct100 = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["schedule", "place"]
        constraints = [
            check("schedulestep_on_at_most_all", Q(on_pct100__isnull=True) | Q(on_pct100__lte=10000)),
            models.UniqueConstraint(fields=["schedule", "place"], name="schedulestep_place_once"),
            check("schedulestep_one_climb", Q(climb_c_per_hour__isnull=True) | Q(climb_minutes=0)),
            # One of no degrees an hour would never end.
            check("schedulestep_climbs", Q(climb_c_per_hour__isnull=True) | Q(climb_c_per_hour__gte=1)),
        ]

    def __str__(self) -> str:
        return f"{self.target_c} C"


class CastingDay(models.Model):
    """One firing that is planned: its kiln, its schedule and the one moment that it is planned around.

    `key` names it in calendars for good, and `revision` grows with every change of its times. What the last calendar
    file told, and as of which revision, is kept: what changes without anybody changing the day is found by it.
    """

    class Wish(models.TextChoices):
        POUR = "pour", "pour at"
        KILN_ON = "kiln_on", "kiln on at"

    kiln = models.ForeignKey("Equipment", models.PROTECT, related_name="+")
    schedule = models.ForeignKey(Schedule, models.PROTECT, related_name="days")
    wish = models.CharField(max_length=7, choices=Wish, default=Wish.POUR)
    wish_at = models.DateTimeField()
    standing_minutes = models.PositiveSmallIntegerField()
    firing = models.ForeignKey("Firing", models.PROTECT, null=True, blank=True, related_name="days")
    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    revision = models.PositiveIntegerField(default=0)
    told_digest = models.CharField(max_length=64, blank=True, default="")
    told_revision = models.PositiveIntegerField(default=0)
    # A lower top than the schedule's, chosen on a late day so that the pour stays where it was.
    top_c = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["-wish_at", "-id"]
        constraints = [
            check("castingday_wish_in_calendar", wish_at__gte=_NONE_BEFORE, wish_at__lt=_NONE_FROM),
        ]

    def __str__(self) -> str:
        return f"casting day {self.pk}"

    @property
    def is_fired(self) -> bool:
        """Whether its firing is written down to its end: then its times stand."""
        return self.firing is not None and not self.firing.is_running

    @property
    def turned(self) -> tuple[Turn, ...]:
        """When the kiln was really turned, as far as anybody wrote it down."""
        return tuple(Turn(one.place, one.set_c, one.at) for one in self.turns.all())


class KilnTurn(models.Model):
    """The kiln of a day was turned, or went on: a press beside it, or a time that was written down later.

    `place` is that of the set point in the day's schedule, 0 the kiln going on; `set_c` what it was turned to, `seen_c`
    where it stood then, None where nobody looked.
    """

    day = models.ForeignKey(CastingDay, models.CASCADE, related_name="turns")
    place = models.PositiveSmallIntegerField()
    set_c = models.PositiveSmallIntegerField()
    seen_c = models.PositiveSmallIntegerField(null=True, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["day", "place"]
        constraints = [models.UniqueConstraint(fields=["day", "place"], name="kilnturn_once")]
        indexes = [
            models.Index(fields=["-day", "place"], condition=Q(seen_c__isnull=False), name="kilnturn_seen")
        ]

    def __str__(self) -> str:
        return f"{self.set_c} C on {self.day}"


class SentEvent(models.Model):
    """An event that some calendar took in: where the day has it no more, the next file says that it is cancelled."""

    day = models.ForeignKey(CastingDay, models.CASCADE, related_name="sent_events")
    uid = models.CharField(max_length=120, unique=True)
    at = models.DateTimeField()

    class Meta:
        ordering = ["day", "at", "id"]

    def __str__(self) -> str:
        return self.uid


class Plan(models.Model):
    """One flask that is to be poured: what its tree is, what goes in, and the figures it was planned with."""

    day = models.ForeignKey(CastingDay, models.PROTECT, related_name="plans")
    title = models.CharField(max_length=120)
    alloy = models.ForeignKey("Alloy", models.PROTECT, related_name="plans")
    owner = models.ForeignKey("Customer", models.PROTECT, null=True, blank=True, related_name="plans")
    flask = models.ForeignKey("Equipment", models.PROTECT, related_name="+")
    crucible = models.ForeignKey("Equipment", models.PROTECT, null=True, blank=True, related_name="+")
    machine = models.ForeignKey("Equipment", models.PROTECT, null=True, blank=True, related_name="+")
    pump = models.ForeignKey("Equipment", models.PROTECT, null=True, blank=True, related_name="+")
    tree_height_um = models.PositiveIntegerField(null=True, blank=True)
    tree_width_um = models.PositiveIntegerField(null=True, blank=True)
    button_pct100 = models.PositiveIntegerField()
    powder = models.ForeignKey("Material", models.PROTECT, related_name="+")
    metal_mg = models.BigIntegerField()
    powder_mg = models.BigIntegerField()
    water_mg = models.BigIntegerField()
    expected_loss_mg = models.BigIntegerField(default=0)
    holds = models.BooleanField(default=True)
    dropped = models.BooleanField(default=False)
    cast = models.OneToOneField("Cast", models.PROTECT, null=True, blank=True, related_name="plan")
    note = models.CharField(max_length=500, blank=True, default="")
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["-day__wish_at", "id"]
        constraints = [
            check("plan_begun_is_not_dropped", Q(cast__isnull=True) | Q(dropped=False)),
            check(
                "plan_figures_make_sense",
                metal_mg__gt=0,
                powder_mg__gte=0,
                water_mg__gte=0,
                expected_loss_mg__gte=0,
            ),
        ]

    def __str__(self) -> str:
        return f"Plan {self.pk}"

    @property
    def is_open(self) -> bool:
        """Neither begun nor given up."""
        return self.cast_id is None and not self.dropped


class PlanPart(models.Model):
    """Patterns of one kind on a tree, or its sprues and stem: how many, and the mass of them all together."""

    plan = models.ForeignKey(Plan, models.CASCADE, related_name="parts")
    place = models.PositiveSmallIntegerField()
    label = models.CharField(max_length=120)
    design = models.ForeignKey("Design", models.PROTECT, null=True, blank=True, related_name="plan_parts")
    material = models.ForeignKey("Material", models.PROTECT, related_name="+")
    mass_mg = models.BigIntegerField()
    count = models.PositiveSmallIntegerField(default=1)
    is_piece = models.BooleanField(default=True)

    class Meta:
        ordering = ["plan", "place"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "place"], name="planpart_place_once"),
            check("planpart_is_something", mass_mg__gt=0, count__gt=0),
        ]

    def __str__(self) -> str:
        return self.label


class PlanPortion(models.Model):
    """So much of a lot that a plan means to use, and what that much of it cost when it was planned."""

    class Use(models.TextChoices):
        METAL = "metal", "charge"
        POWDER = "powder", "powder"
        PATTERN = "pattern", "pattern material"

    plan = models.ForeignKey(Plan, models.CASCADE, related_name="portions")
    lot = models.ForeignKey("Lot", models.PROTECT, related_name="planned")
    use = models.CharField(max_length=7, choices=Use)
    quantity = models.BigIntegerField()
    cost_micro = models.BigIntegerField()

    class Meta:
        ordering = ["plan", "id"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "lot"], name="planportion_lot_once"),
            check("planportion_is_something", quantity__gt=0, cost_micro__gte=0),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.lot}"


class ChecklistItem(models.Model):
    """One line of the list that is ticked before the pour; the studio writes its own."""

    class When(models.TextChoices):
        ALWAYS = "always", "before every pour"
        GRAPHITE = "graphite", "with a graphite crucible"
        PUMP = "pump", "with a vacuum pump"

    text = models.CharField(max_length=120)
    when = models.CharField(max_length=8, choices=When, default=When.ALWAYS)
    place = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["place", "id"]

    def __str__(self) -> str:
        return self.text


class CastMoment(models.Model):
    """What was done for a cast, and when: a press on the phone at the bench. `text` is the line that was ticked."""

    class Kind(models.TextChoices):
        POWDER = "powder", "powder in the water"
        INVESTED = "invested", "last vacuum ended"
        METAL = "metal", "metal in the crucible"
        POURED = "poured", "poured"
        TICK = "tick", "ticked before the pour"

    cast = models.ForeignKey("Cast", models.PROTECT, related_name="moments")
    kind = models.CharField(max_length=8, choices=Kind)
    text = models.CharField(max_length=120, blank=True, default="")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["cast", "kind", "text"], name="castmoment_once"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} for {self.cast}"
