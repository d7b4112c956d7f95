"""The charge that a plan keeps, held against the shelf and the rules as they are now."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from inventory.core.charge_judging import Judgement, judge_charge
from inventory.core.charge_shelf import Bind, Problem
from inventory.models import Plan, PlanPortion

from .ledger import name_lot
from .plan_sums import Worked
from .planning import portions_for

#: What is never saved: metal that is not there or not theirs, and a charge below the mark. The rest are the
#: studio's own rules, and the person at the bench may know better.
NEVER = (Bind.ON_HAND, Bind.OWNER, Bind.MARK, Bind.NOTHING_WANTED)


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
    def gone(self) -> tuple[KeptLine, ...]:
        return tuple(line for line in self.lines if not line.on_shelf)


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
