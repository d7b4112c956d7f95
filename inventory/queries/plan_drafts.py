"""A plan as a person says it, before anything is worked out; a saved one is read back the same way."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from inventory.models import Alloy, Customer, Equipment, Material, Plan, Schedule


@dataclass(frozen=True)
class PartDraft:
    """Patterns of one kind on the tree, or its sprues: how many, and the mass of them all together."""

    label: str
    material: Material
    mass_mg: int
    count: int = 1
    is_piece: bool = True


@dataclass(frozen=True)
class DayDraft:
    """A firing that is planned: the wish is an aware moment."""

    kiln: Equipment
    schedule: Schedule
    wish: str
    wish_at: datetime
    standing_minutes: int


@dataclass(frozen=True)
class PlanDraft:
    """What a person says of a cast to come."""

    title: str
    alloy: Alloy
    flask: Equipment
    powder: Material
    parts: tuple[PartDraft, ...]
    day: DayDraft
    button_pct100: int
    owner: Customer | None = None
    crucible: Equipment | None = None
    machine: Equipment | None = None
    pump: Equipment | None = None
    tree_height_um: int | None = None
    tree_width_um: int | None = None
    note: str = ""


def draft_of(plan: Plan) -> PlanDraft:
    """A saved plan as it was said. Its day, parts and their materials should have been read with it."""
    day = plan.day
    return PlanDraft(
        title=plan.title,
        alloy=plan.alloy,
        flask=plan.flask,
        powder=plan.powder,
        parts=tuple(
            PartDraft(part.label, part.material, part.mass_mg, part.count, part.is_piece)
            for part in plan.parts.all()
        ),
        day=DayDraft(day.kiln, day.schedule, day.wish, day.wish_at, day.standing_minutes),
        button_pct100=plan.button_pct100,
        owner=plan.owner,
        crucible=plan.crucible,
        machine=plan.machine,
        pump=plan.pump,
        tree_height_um=plan.tree_height_um,
        tree_width_um=plan.tree_width_um,
        note=plan.note,
    )


def default_wish_at(now: datetime) -> datetime:
    """Half past six tomorrow evening, on the studio's clock."""
    tomorrow = timezone.localdate(now) + timedelta(days=1)
    return datetime(
        tomorrow.year, tomorrow.month, tomorrow.day, 18, 30, tzinfo=timezone.get_current_timezone()
    )
