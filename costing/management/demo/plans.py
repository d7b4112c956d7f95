"""What the demo studio casts, how it plans its days, casts made from plans, and tomorrow's two flasks."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.utils import timezone

from costing.management.demo.setting import Setting, money
from inventory import models
from inventory.core.starters import STARTER_CHECKLIST
from inventory.posting import casting
from inventory.posting.buying import Charges, DeliveryLine, post_delivery
from inventory.posting.casting_records import assign_firing
from inventory.posting.planning import note_moment, post_begin, save_plan, set_hold
from inventory.queries.plan_figures import work_out
from inventory.queries.plans import DayDraft, PartDraft, PlanDraft


@dataclass(frozen=True)
class Design:
    """A design in one alloy: milligrams of one pattern and of one casting, and minutes to finish one."""

    name: str
    wax_mg: int
    cast_mg: int
    finish_minutes: int


FERN = Design("Fern stud", 370, 3_840, 14)
POD = Design("Seed pod pendant", 1_180, 12_240, 25)
LEAF = Design("Ivy leaf brooch", 1_540, 15_980, 35)
BUD = Design("Bud ring", 790, 8_190, 30)
TWIG = Design("Twig bangle", 2_930, 30_400, 50)
CONE = Design("Larch cone charm", 560, 5_810, 16)
HOOK = Design("Bramble coat hook", 5_200, 47_500, 20)
KNOB = Design("Acorn drawer knob", 3_400, 31_050, 15)

SILVER_TREES: tuple[tuple[tuple[Design, int], ...], ...] = (
    ((FERN, 4), (POD, 2)),
    ((LEAF, 2), (CONE, 3)),
    ((BUD, 4), (FERN, 2)),
    ((TWIG, 1), (CONE, 4)),
    ((POD, 3), (BUD, 1)),
    ((LEAF, 1), (FERN, 6)),
)
BRONZE_TREES: tuple[tuple[tuple[Design, int], ...], ...] = (
    ((HOOK, 2),),
    ((KNOB, 3),),
    ((HOOK, 1), (KNOB, 2)),
)


def plural(design: Design, count: int) -> str:
    """How a tree's label names so many of a design: "4 fern studs", "2 ivy leaf brooches", "an ivy leaf brooch"."""
    name = design.name.lower()
    if count > 1:
        return f"{count} {name}{'es' if name.endswith('ch') else 's'}"
    return f"{'an' if name[0] in 'aeiou' else 'a'} {name}"


# Which casts of the year were planned first.
PLANNED = (36, 37, 39)
Tree = Sequence[tuple[Design, int]]
POUR_AT = time(18, 45)
# Flasks are invested in the evening and stand over night.
STANDING = timedelta(hours=11)
BUTTON_PCT100 = 1_200

# (C, minutes of the climb, minutes of the hold, what happens)
SMALL_STEPS = (
    (145, 45, 90, "wax out"),
    (360, 80, 75, ""),
    (725, 110, 150, "burn out"),
    (540, 70, 60, "to pour"),
)
WIDE_STEPS = (
    (145, 60, 150, "wax out"),
    (360, 90, 120, ""),
    (725, 150, 210, "burn out"),
    (540, 80, 90, "to pour"),
)
BURNOUT = timedelta(minutes=sum(climb + hold for _, climb, hold, _ in SMALL_STEPS))


class CastingDays:
    """The studio's habits of planning, and the casts that come of them."""

    def __init__(self, things: Setting) -> None:
        self.things = things
        self.studio = models.Studio.objects.get()
        models.DayPractice.objects.create(
            pk=1, button_pct100=BUTTON_PCT100, standing_minutes=STANDING // timedelta(minutes=1)
        )
        models.ChecklistItem.objects.bulk_create(
            models.ChecklistItem(text=line.text, when=line.when, place=place)
            for place, line in enumerate(STARTER_CHECKLIST)
        )
        self.schedule = self._add_schedule("Wax, flasks to 80 mm", 80_000, SMALL_STEPS)
        self._add_schedule("Wax, flasks to 110 mm", 110_000, WIDE_STEPS)

    def _add_schedule(
        self, name: str, widest_um: int, steps: Sequence[tuple[int, int, int, str]]
    ) -> models.Schedule:
        schedule = models.Schedule.objects.create(
            name=name,
            powder=self.things.powder,
            largest_diameter_um=widest_um,
            note="From the powder's sheet.",
        )
        models.ScheduleStep.objects.bulk_create(
            models.ScheduleStep(
                schedule=schedule,
                place=place,
                target_c=target_c,
                climb_minutes=climb,
                hold_minutes=hold,
                label=label,
            )
            for place, (target_c, climb, hold, label) in enumerate(steps)
        )
        return schedule

    def cast(self, place: int, record: casting.CastRecord, tree: Tree) -> None:
        """Record a cast of the year: from a plan of its own, or all at once."""
        if place in PLANNED:
            self._cast_by_plan(record, tree)
        else:
            casting.post_cast(record, self.things.person)

    def _cast_by_plan(self, record: casting.CastRecord, tree: Tree) -> None:
        """Plan a cast, begin it from its plan, and record it as it went, step by step."""
        facts = record.facts
        wish_at = self.pour_at(facts.day)
        plan = self.plan(tree, facts.alloy, facts.crucible, self.day(wish_at), title=facts.title)
        models.Plan.objects.filter(pk=plan.pk).update(made_at=wish_at - timedelta(days=2, hours=3))
        cast = post_begin(plan)
        before = record.prepared_on or facts.day
        casting.post_tree(cast, record.tree, before)
        casting.post_powder(cast, record.powder, record.water_mg, before)
        self._note_moments(cast, wish_at)
        casting.post_charge(cast, record.charge, facts.day)
        assign_firing(cast, record.firing)
        casting.record_pour(cast, record.pour)
        casting.post_close(cast, record.weights, facts.day, self.things.person)
        for spent in record.bench:
            models.BenchTime.objects.create(cast=cast, day=facts.day, minutes=spent.minutes, what=spent.what)

    def _note_moments(self, cast: models.Cast, wish_at: datetime) -> None:
        """What was pressed at the bench: seven minutes from the powder in the water to the last vacuum."""
        mixed_at = wish_at - BURNOUT - STANDING
        note_moment(cast, models.CastMoment.Kind.POWDER, at=mixed_at)
        note_moment(cast, models.CastMoment.Kind.INVESTED, at=mixed_at + timedelta(minutes=7))
        for place, line in enumerate(STARTER_CHECKLIST):
            at = wish_at - timedelta(minutes=9 - place)
            note_moment(cast, models.CastMoment.Kind.TICK, line.text, at=at)

    def plan_ahead(self, today: date) -> None:
        """What stands ready when the year is over: metals to alloy with, and tomorrow's flasks."""
        self._keep_metals_to_alloy_with(today - timedelta(days=20))
        self._plan_tomorrow(today)

    def _keep_metals_to_alloy_with(self, day: date) -> None:
        """A little fine silver and copper, should the tin ever be too poor for the mark."""
        for name, metal, fineness, density, element, grams, pence in (
            ("Fine silver", "silver", 999, 10_500, "Ag", 60, 7_140),
            ("Copper", "base", 0, 8_960, "Cu", 200, 460),
        ):
            alloy = models.Alloy.objects.create(
                name=name,
                metal=metal,
                fineness=fineness,
                density_mg_cm3=density,
                density_note="handbook value",
            )
            alloy.parts.create(element=element, per_10000=10_000)
            grain = models.Material.objects.create(
                name=f"{name} grain", kind="metal", alloy=alloy, form="grain", supplier=self.things.metals
            )
            line = DeliveryLine(grain, grams * 1000, money(pence), kept_in="safe")
            post_delivery(self.things.metals, day, [line], Charges(carriage_micro=money(180)), f"M-{name[0]}")

    def _plan_tomorrow(self, today: date) -> None:
        """Two flasks in one firing: the silver is held, the bronze is still only thought of."""
        things, day = self.things, self.day(self.pour_at(today + timedelta(days=1)))
        silver = self.plan(SILVER_TREES[1], things.sterling, things.crucible, day)
        bronze = self.plan(
            BRONZE_TREES[1], things.bronze, things.bronze_crucible, day, silver.day, things.tall_flask
        )
        set_hold(bronze, False)

    def pour_at(self, day: date) -> datetime:
        return datetime.combine(day, POUR_AT, timezone.get_current_timezone())

    def day(self, wish_at: datetime) -> DayDraft:
        return DayDraft(
            self.things.kiln,
            self.schedule,
            models.CastingDay.Wish.POUR,
            wish_at,
            STANDING // timedelta(minutes=1),
        )

    def plan(
        self,
        tree: Tree,
        alloy: models.Alloy,
        crucible: models.Equipment | None,
        draft: DayDraft,
        day: models.CastingDay | None = None,
        flask: models.Equipment | None = None,
        title: str = "",
    ) -> models.Plan:
        things = self.things
        wax_mg = sum(design.wax_mg * count for design, count in tree)
        parts = [PartDraft(design.name, things.wax, design.wax_mg * count, count) for design, count in tree]
        parts.append(PartDraft("Sprues and stem", things.wax, wax_mg * 4 // 5 // 10 * 10, is_piece=False))
        said = PlanDraft(
            title=title or _say(tree),
            alloy=alloy,
            flask=flask or things.flask,
            powder=things.powder,
            parts=tuple(parts),
            day=draft,
            button_pct100=BUTTON_PCT100,
            crucible=crucible,
            machine=things.machine,
            pump=things.pump,
            tree_height_um=82_000,
            tree_width_um=58_000,
        )
        return save_plan(work_out(said, self.studio), day=day)


def _say(tree: Tree) -> str:
    return " and ".join(plural(design, count) for design, count in tree)
