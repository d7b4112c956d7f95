"""How a plan looks today: its main moments, its lots by name, what is wrong, and the charge that it keeps."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from inventory.core.charge_judging import Judgement, judge_charge
from inventory.core.charge_shelf import Bind, Problem
from inventory.core.day_plan import MomentKind
from inventory.core.picking import Need
from inventory.core.timetable import DayLine, Moment, Timetable
from inventory.models import DayPractice, Material, Plan, PlanPortion, Studio
from studio.kit.measures import MEASURES
from studio.kit.printing import print_length
from studio.kit.rounding import round_column
from studio.kit.scale import round_weights

from .days import DaySheet, read_day
from .ledger import name_lot
from .plan_figures import Worked, work_out
from .plans import PlanDraft, portions_for
from .studio import check_for_powder, schedule_steps
from .turning import Standing

#: What is never saved: metal that is not there or not theirs, and a charge below the mark. The rest are the
#: studio's own rules, and the person at the bench may know better.
NEVER = (Bind.ON_HAND, Bind.OWNER, Bind.MARK, Bind.NOTHING_WANTED)
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
    day: Timetable | None = None
    place: int | None = None

    @property
    def timetable(self) -> Timetable | None:
        """That of the whole day, in which the plan's flask stands at `place`; else of this flask alone."""
        return self.day or self.worked.timetable

    @property
    def moments(self) -> list[tuple[str, Moment]]:
        table = self.timetable
        found = ((words, table.find(kind, self.place)) for kind, words in MAIN_MOMENTS) if table else ()
        return [(words, moment) for words, moment in found if moment is not None]

    @property
    def warnings(self) -> tuple[str, ...]:
        """Where tree, flask, crucible and schedule do not suit each other."""
        powder = self.worked.powder
        too_much = (powder.bowls.too_much,) if powder.bowls.too_much else ()
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

    @cached_property
    def enough(self) -> "Enough":
        return check_enough(self.worked)

    def _name(self, takes: Iterable[tuple[int, int]]) -> tuple[Take, ...]:
        return tuple(Take(key, name_lot(self.worked.lots[key]), quantity) for key, quantity in takes)


def look_at(draft: PlanDraft, studio: Studio, but: Plan | None = None) -> Outlook:
    worked = work_out(draft, studio, but)
    return Outlook(worked, check_plan_schedule(draft, worked.practice))


def in_its_day(outlook: Outlook, plan: Plan) -> Outlook:
    """A saved plan as it stands among the other flasks of its day, with which it is mixed and poured in turn."""
    sheet = read_day(plan.day_id)
    if sheet is None or sheet.timetable is None or plan not in sheet.flasks:
        return outlook
    return replace(outlook, day=sheet.timetable, place=sheet.flasks.index(plan))


def next_moments(plans: Sequence[Plan], sheets: Mapping[int, DaySheet]) -> dict[int, Moment | DayLine | None]:
    """The next thing to do by hand for each plan, by its key, of their days; None when its whole day is past.

    A turn of the kiln that is waited for comes before all that follows it, as on the page of its day.
    """
    return {plan.pk: _next_moment(plan, sheets.get(plan.day_id)) for plan in plans}


def _next_moment(plan: Plan, sheet: DaySheet | None) -> Moment | DayLine | None:
    if sheet is None or sheet.timetable is None or plan not in sheet.flasks:
        return None
    if waited_for := Standing(sheet).waited_for:
        return waited_for.line
    places = (None, sheet.flasks.index(plan))
    own = (one for one in sheet.timetable.moments if one.by_hand and one.flask in places)
    return next((moment for moment in own if moment.at >= sheet.now), None)


def check_plan_schedule(draft: PlanDraft, practice: DayPractice) -> tuple[str, ...]:
    """Where the schedule does not suit the powder or the flask. Each is a warning."""
    schedule, powder = draft.day.schedule, draft.powder
    steps = schedule_steps(schedule, practice, draft.day.kiln)
    found = [remark.sentence for remark in check_for_powder(steps, powder, practice.room_c)]
    largest_um, wide_um = schedule.largest_diameter_um, draft.flask.diameter_um
    if not largest_um:
        found.append(
            f"The schedule {schedule} does not say how wide a flask it is for. A wide flask needs longer holds: "
            "look at the powder's sheet."
        )
    elif wide_um and wide_um > largest_um:
        found.append(
            f"The schedule {schedule} is for flasks up to {print_length(largest_um)} wide and this one is "
            f"{print_length(wide_um)}. Choose a slower one."
        )
    if schedule.powder_id and schedule.powder_id != powder.pk:
        found.append(f"The schedule {schedule} is for {schedule.powder}, and the powder is {powder}.")
    if schedule.pattern_id and schedule.pattern_id not in {part.material.pk for part in draft.parts}:
        found.append(f"The schedule {schedule} is for patterns of {schedule.pattern}, and the tree has none.")
    return tuple(found)


@dataclass(frozen=True)
class KeptLine:
    """So much of a lot that a plan keeps, and why; `on_shelf` is False when it cannot be taken any more."""

    lot: int
    label: str
    mass_mg: int
    cost_micro: int
    why: str
    on_shelf: bool = True


@dataclass(frozen=True)
class KeptCharge:
    """A plan's own charge. `judged` is None when nothing is kept."""

    lines: tuple[KeptLine, ...]
    judged: Judgement | None
    is_as_proposed: bool

    @property
    def mass_mg(self) -> int:
        return sum(line.mass_mg for line in self.lines)

    @property
    def cost_micro(self) -> int:
        return sum(line.cost_micro for line in self.lines)

    @property
    def lines_shown(self) -> list[tuple[KeptLine, int, int]]:
        """Each line with its milligrams and cost as they are shown: they add up to what is shown below them."""
        masses_mg = round_weights([line.mass_mg for line in self.lines])
        costs_micro = round_column([line.cost_micro for line in self.lines], MEASURES["money"].column_unit)
        return list(zip(self.lines, masses_mg, costs_micro, strict=True))

    @property
    def gone(self) -> tuple[KeptLine, ...]:
        return tuple(line for line in self.lines if not line.on_shelf)

    @property
    def masses(self) -> dict[int, int]:
        """Milligrams by lot."""
        return {line.lot: line.mass_mg for line in self.lines}

    @property
    def is_whole(self) -> bool:
        """Whether it can be weighed out as it stands, and is as much as the plan asks for."""
        if self.judged is None or self.gone:
            return False
        return not any(problem.bind in (*NEVER, Bind.TOTAL) for problem in self.judged.problems)


def read_kept_charge(plan: Plan, worked: Worked) -> KeptCharge:
    """What the plan means to charge. Its portions should have been read with their lots."""
    here = {lot.key: lot for lot in worked.shelf}
    reasons = {line.key: line.why for line in worked.proposal.lines}
    portions = portions_for(plan, PlanPortion.Use.METAL)
    lines = tuple(
        KeptLine(
            lot=portion.lot_id,
            label=name_lot(portion.lot),
            mass_mg=portion.quantity,
            cost_micro=portion.cost_micro,
            why=reasons.get(portion.lot_id, "Your own choice."),
            on_shelf=portion.lot_id in here,
        )
        for portion in portions
    )
    masses = {line.lot: line.mass_mg for line in lines if line.on_shelf}
    proposed = {line.key: line.mass_mg for line in worked.proposal.lines}
    return KeptCharge(
        lines=lines,
        judged=judge_charge(worked.shelf, masses, worked.wanted) if lines else None,
        is_as_proposed={line.lot: line.mass_mg for line in lines} == proposed,
    )


@dataclass(frozen=True)
class Enough:
    """Whether all is here, line by line; the metal is the first line, and what is said of the whole agrees with all."""

    needs: tuple[Need, ...]

    @property
    def is_all_here(self) -> bool:
        return not self.lacks

    @property
    def lacks(self) -> list[Need]:
        return [need for need in self.needs if need.lacking]

    @property
    def said(self) -> str:
        if any(need.short for need in self.needs):
            return "Not everything is here"
        return "All that it needs is here" if self.is_all_here else "The metal that is here makes no charge"


def check_enough(worked: Worked, kept: KeptCharge | None = None) -> Enough:
    """Of metal it is enough where a charge can be made: the one that the plan keeps, or the one that is proposed."""
    metal, *others = worked.needs
    lines = (
        kept.masses if kept and kept.is_whole else {line.key: line.mass_mg for line in worked.proposal.lines}
    )
    other = {lot.key for lot in worked.shelf if not lot.is_same}
    alloyed_mg = sum(mass_mg for key, mass_mg in lines.items() if key in other)
    return Enough((replace(metal, alloyed_mg=alloyed_mg, barred=not lines), *others))


def what_never_saves(worked: Worked, masses: Mapping[int, int]) -> Sequence[Problem]:
    """The problems for which a charge is refused; a lot that is not on the shelf is one."""
    here = {lot.key for lot in worked.shelf}
    gone = sorted(key for key, mass_mg in masses.items() if mass_mg and key not in here)
    if gone:
        return [Problem(Bind.ON_HAND, f"Lot {gone[0]} is not on the shelf any more. Take another.")]
    judged = judge_charge(worked.shelf, masses, worked.wanted)
    return [problem for problem in judged.problems if problem.bind in NEVER]


def charge_to_keep(plan: Plan, worked: Worked) -> dict[int, int] | None:
    """The charge that a person chose by hand, where the plan still asks for as much of the same; else None."""
    masses = {portion.lot_id: portion.quantity for portion in portions_for(plan, PlanPortion.Use.METAL)}
    draft = worked.draft
    is_same = (plan.alloy_id, plan.owner_id, plan.metal_mg) == (
        draft.alloy.pk,
        draft.owner.pk if draft.owner else None,
        worked.metal.charge_mg,
    )
    if not is_same or not masses or what_never_saves(worked, masses):
        return None
    return masses
