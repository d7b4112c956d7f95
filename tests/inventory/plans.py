"""Plans for tests, made the way a person's page makes them."""

from datetime import UTC, datetime, timedelta

from django.utils import timezone

from inventory.models import CastingDay, Equipment, Schedule, ScheduleStep, Studio
from inventory.posting.planning import save_plan
from inventory.queries.plan_figures import work_out
from inventory.queries.plans import DayDraft, PartDraft, PlanDraft
from tests import workshop as w


def schedule(name="Small flasks, 13 hours"):
    """Climb to 150 in an hour and on to 750, hold there, and fall to 600 before the pour: 13 hours."""
    made, is_new = Schedule.objects.get_or_create(name=name, defaults={"largest_diameter_um": 80_000})
    if is_new:
        steps = [(150, 60, 120), (370, 120, 60), (750, 180, 120), (600, 60, 60)]
        for place, (target, climb, hold) in enumerate(steps):
            ScheduleStep.objects.create(
                schedule=made, place=place, target_c=target, climb_minutes=climb, hold_minutes=hold
            )
    return made


def flask(name="Flask 75 x 100"):
    """75 by 100 mm inside: 441.8 ml."""
    return w.named(Equipment, name, kind="flask", diameter_um=75_000, height_um=100_000)


def crucible(capacity="200"):
    facts = {"capacity_mg": w.g(capacity), "crucible_material": "graphite"}
    return w.named(Equipment, "Graphite cup", kind="crucible", **facts)


def day_draft(at=None, wish=CastingDay.Wish.POUR):
    at = at or datetime.now(UTC).replace(minute=30, second=0, microsecond=0) + timedelta(days=1)
    return DayDraft(w.kiln(), schedule(), wish, at, 120)


def draft(**changes):
    """A tree of four leaves of 0.80 g of wax each and a stem of 2.40 g: 5.60 g of wax at 0.96."""
    said = {
        "title": "Fern leaves",
        "alloy": w.sterling(),
        "flask": flask(),
        "powder": w.powder(),
        "parts": (
            PartDraft("Leaf", w.wax(), 3_200, 4),
            PartDraft("Sprues and stem", w.wax(), 2_400, is_piece=False),
        ),
        "day": day_draft(),
        "button_pct100": 1000,
        "crucible": crucible(),
    }
    return PlanDraft(**(said | changes))


def stock(fresh="200", powder="6000", wax="100"):
    """Metal, powder and wax for plans; the lots by name."""
    return {
        "fresh": w.buy(w.grain(), w.g(fresh), 300),
        "powder": w.buy(w.powder(), w.g(powder), 40, use_by=timezone.localdate() + timedelta(days=200)),
        "wax": w.buy(w.wax(), w.g(wax), 8),
    }


def plan(**changes):
    worked = work_out(draft(**changes), Studio.objects.get())
    return save_plan(worked)
