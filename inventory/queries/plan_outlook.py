"""What a plan's pages say of a plan that was worked out: its main moments, its lots by name, what is wrong."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from inventory.core.day_moments import MomentKind
from inventory.core.timetable import Moment, Timetable
from inventory.models import DayPractice, Material, Plan, Studio

from .ledger import name_lot
from .plan_drafts import PlanDraft
from .plan_pages import check_plan_schedule
from .plan_sums import Worked, work_out, work_timetable

MAIN_MOMENTS = (
    (MomentKind.MIX, "Powder into the water"),
    (MomentKind.KILN_ON, "Kiln on"),
    (MomentKind.CRUCIBLE, "Metal into the crucible"),
    (MomentKind.POUR, "Pour"),
)


@dataclass(frozen=True)
class Take:
    """So much of a lot, by its name."""

    lot: int
    label: str
    quantity_mg: int


@dataclass(frozen=True)
class PatternOutlook:
    """A pattern material, the lots it would come from, and the sentence where there is too little."""

    material: Material
    takes: tuple[Take, ...]
    problem: str


@dataclass(frozen=True)
class Outlook:
    """A plan worked out, as pages show it."""

    worked: Worked
    schedule_remarks: tuple[str, ...]

    @property
    def moments(self) -> list[tuple[str, Moment]]:
        return main_moments(self.worked.timetable)

    @property
    def warnings(self) -> tuple[str, ...]:
        """Where tree, flask, crucible and schedule do not suit each other."""
        powder = self.worked.powder
        too_much = (powder.too_much,) if powder.too_much else ()
        return (*powder.problems, *too_much, *self.worked.metal.misfits, *self.schedule_remarks)

    @cached_property
    def powder_takes(self) -> tuple[Take, ...]:
        return self._name(self.worked.powder.suggestion.takes)

    @cached_property
    def patterns(self) -> list[PatternOutlook]:
        return [
            PatternOutlook(material, self._name(suggestion.takes), suggestion.problem)
            for material, suggestion in self.worked.patterns
        ]

    @property
    def shorts(self) -> list[str]:
        return [need.sentence for need in self.worked.needs if need.short]

    def _name(self, takes: Iterable[tuple[int, int]]) -> tuple[Take, ...]:
        return tuple(Take(key, name_lot(self.worked.lots[key]), quantity) for key, quantity in takes)


def look_at(draft: PlanDraft, studio: Studio, but: Plan | None = None) -> Outlook:
    worked = work_out(draft, studio, but)
    return Outlook(worked, check_plan_schedule(draft, worked.practice))


def main_moments(timetable: Timetable) -> list[tuple[str, Moment]]:
    return [(words, moment) for kind, words in MAIN_MOMENTS if (moment := timetable.find(kind)) is not None]


def next_moment(plan: Plan, practice: DayPractice, now: datetime) -> Moment | None:
    """The next thing to do by hand for a plan; None when its whole day is past."""
    timetable = work_timetable(plan.day, plan.powder, practice, now)
    return next((moment for moment in timetable.moments if moment.by_hand and moment.at >= now), None)
