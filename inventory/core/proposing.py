"""Propose what to weigh into the crucible: portions of lots that come to the metal needed and keep every rule."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from studio.kit.printing import print_fine, print_fineness, print_mass, print_melts, print_percent
from studio.kit.units import PCT100_WHOLE
from studio.kit.working import Given, Step, Working, make_working, origin_of

from .charge import ChargeSums
from .charge_binding import check_what_binds
from .charge_fitting import Masses, find_masses
from .charge_judging import judge_charge
from .charge_shelf import Bind, ChargeWanted, Problem, Shelf, ShelfLot, sort_shelf
from .picking import LeftOut


@dataclass(frozen=True, slots=True)
class ProposedPortion:
    """So many milligrams of a lot, and why. Fine metal and cost are what the book would draw with them."""

    key: int
    label: str
    mass_mg: int
    fine_ug: int
    cost_micro: int
    uses_up: bool
    why: str


@dataclass(frozen=True, slots=True)
class Proposal:
    """A charge to weigh, or the problems that keep it from being made.

    With problems there are no lines; `instead` is then the largest charge of whole steps that keeps the rules, or
    None. `left_out` says of every other lot why it stays on the shelf. `remarks` are worth knowing and break
    no rule.
    """

    lines: tuple[ProposedPortion, ...]
    sums: ChargeSums | None
    cost_micro: int
    left_out: tuple[LeftOut, ...]
    problems: tuple[Problem, ...]
    remarks: tuple[str, ...]
    working: Working
    instead: "Proposal | None" = None

    @property
    def total_mg(self) -> int:
        return sum(line.mass_mg for line in self.lines)

    @property
    def fine_ug(self) -> int:
        return sum(line.fine_ug for line in self.lines)

    @property
    def fresh_pct100(self) -> int:
        return self.sums.fresh_pct100 if self.sums else 0

    @property
    def melts_milli(self) -> int:
        return self.sums.melts_milli if self.sums else 0


def propose_charge(lots: Sequence[ShelfLot], wanted: ChargeWanted) -> Proposal:
    """Propose a charge from lots of the cast's own metal, and alloying metals where the caller adds them.

    What is never given up: the metal needed, to the milligram; the mark, reckoned in whole numbers without
    tolerance but a microgram a portion for the book's rounding; the least share of fresh metal; the limit of
    melts, for each lot of reclaim and for what leaves the crucible; nobody's metal but the owner's (and the
    studio's, where it is among `lots`). Portions are whole steps of the scale and no smaller than is worth
    weighing, unless the charge can only be made otherwise.

    Then, in turn: in a customer's cast the least of the studio's metal; the most reclaim; the least alloying metal;
    the least precious metal above the mark; few lots, reckoned by the share that is taken of each; what was
    melted most; what is oldest; what is cheapest. A shelf of few kinds of metal is searched to the end; where
    dozens of lots are all unlike, alloying metal may come out a few steps of the scale above the least. Of
    lots that are alike, always as few as can be are taken, in the same order.

    Keys of lots are unique. A user's mistake is a problem in the proposal; nothing is raised.
    """
    if wanted.needed_mg <= 0:
        problem = Problem(Bind.NOTHING_WANTED, "Say how much metal is needed: more than nothing.")
        return _refuse(Shelf((), (), (), ()), wanted, (problem,))
    shelf = sort_shelf(lots, wanted)
    masses = find_masses(shelf.usable, wanted)
    if masses:
        return _write_out(shelf, wanted, masses)
    refused = _refuse(shelf, wanted, check_what_binds(shelf, wanted))
    smaller = find_masses(shelf.usable, wanted, must_fill=False)
    if not smaller:
        return refused
    instead = _write_out(shelf, replace(wanted, needed_mg=sum(smaller.values())), smaller)
    return replace(refused, instead=instead)


def _write_out(shelf: Shelf, wanted: ChargeWanted, masses: Masses) -> Proposal:
    judged = judge_charge(shelf.usable, masses, wanted)
    lots = sorted((lot for lot in shelf.usable if lot.key in masses), key=_line_order)
    lines = tuple(_write_line(lot, masses[lot.key], wanted) for lot in lots)
    return Proposal(
        lines=lines,
        sums=judged.sums,
        cost_micro=judged.cost_micro,
        left_out=(*shelf.left_out, *_explain_unused(shelf, wanted, masses)),
        problems=judged.problems,
        remarks=judged.remarks,
        working=_work_out(shelf, wanted, lines, judged.sums),
    )


def _refuse(shelf: Shelf, wanted: ChargeWanted, problems: tuple[Problem, ...]) -> Proposal:
    return Proposal(
        lines=(),
        sums=None,
        cost_micro=0,
        left_out=shelf.left_out,
        problems=problems,
        remarks=(),
        working=_work_out(shelf, wanted, (), None, problems),
    )


def _line_order(lot: ShelfLot) -> tuple[bool, bool, int, int]:
    """As a person weighs: reclaim, fresh metal, alloying metal; each oldest first."""
    return lot.counts_fresh, lot.is_alloying, lot.day.toordinal(), lot.key


def _write_line(lot: ShelfLot, mass_mg: int, wanted: ChargeWanted) -> ProposedPortion:
    taken = lot.take(mass_mg)
    uses_up = mass_mg == lot.held.quantity
    return ProposedPortion(
        key=lot.key,
        label=lot.label,
        mass_mg=mass_mg,
        fine_ug=taken.fine_ug,
        cost_micro=taken.cost_micro,
        uses_up=uses_up,
        why=_say_why(lot, wanted) + (" This uses the lot up." if uses_up else ""),
    )


def _say_why(lot: ShelfLot, wanted: ChargeWanted) -> str:
    mark = wanted.rules.per_mille
    if lot.owner != wanted.owner:
        return "The studio's own, because the customer's metal alone will not do."
    if not lot.counts_fresh:
        return f"Reclaim goes in first, as much as your rules allow: {print_melts(lot.melts_milli)} so far."
    if not lot.is_alloying:
        return "Fresh metal for the rest of the charge."
    if lot.held.fine_ug > lot.held.quantity * mark:
        return f"Finer metal, to bring the charge up to {mark}."
    return f"Alloying metal: the charge can carry it and still reach {mark}." if mark else "Alloying metal."


def _explain_unused(shelf: Shelf, wanted: ChargeWanted, masses: Masses) -> list[LeftOut]:
    reclaim_mg = sum(masses.get(lot.key, 0) for lot in shelf.usable if not lot.counts_fresh)
    most_reclaim_mg = wanted.needed_mg - wanted.rules.compute_fresh_needed_mg(wanted.needed_mg)
    is_full = reclaim_mg > most_reclaim_mg - wanted.smallest_mg
    return [
        LeftOut(lot.key, _say_unused(lot, wanted, is_full, reclaim_mg == wanted.needed_mg))
        for lot in shelf.usable
        if lot.key not in masses
    ]


def _say_unused(lot: ShelfLot, wanted: ChargeWanted, is_full: bool, is_all_reclaim: bool) -> str:
    mark, least_fresh_pct100 = wanted.rules.per_mille, wanted.rules.least_fresh_pct100
    if lot.usable_mg < wanted.smallest_mg:
        return f"{lot.label} holds {print_mass(lot.usable_mg)}: too little to be worth weighing."
    if lot.counts_fresh or is_all_reclaim:
        return f"{lot.label} is not needed."
    if is_full:
        share = print_percent(PCT100_WHOLE - least_fresh_pct100)
        return f"{lot.label} finds no room: no more than {share} may be reclaim."
    if mark and lot.held.fine_ug < lot.held.quantity * mark:
        fineness = print_fineness(lot.held.fine_ug, lot.held.quantity)
        return f"{lot.label} is of {fineness}: more of such metal would take the charge below {mark}."
    return f"{lot.label} is not needed."


def _work_out(
    shelf: Shelf,
    wanted: ChargeWanted,
    lines: Sequence[ProposedPortion],
    sums: ChargeSums | None,
    problems: Sequence[Problem] = (),
) -> Working:
    result = "no charge keeps all rules"
    if sums:
        result = " and ".join(f"{print_mass(line.mass_mg)} of {line.label}" for line in lines)
    return make_working(
        "Charge to weigh",
        "as much reclaim as the rules allow, then fresh metal, then alloying metal only where the mark asks "
        "for it; the portions come to the metal needed",
        *(_give_lot(lot, wanted) for lot in shelf.usable),
        *_give_rules(wanted),
        *_limit_steps(shelf, wanted),
        *_sum_steps(lines, sums, wanted),
        result=result,
        notes=(
            f"Whole steps of {print_mass(wanted.step_mg)} and portions from {print_mass(wanted.smallest_mg)}, "
            "unless the charge can only be made otherwise.",
            *(problem.sentence for problem in problems),
        ),
    )


def _give_lot(lot: ShelfLot, wanted: ChargeWanted) -> Given:
    said = [print_mass(lot.usable_mg)]
    if wanted.rules.per_mille:
        said.append(f"at {print_fineness(lot.held.fine_ug, lot.held.quantity)}")
    said.append("fresh" if lot.counts_fresh else print_melts(lot.melts_milli))
    return Given(lot.label, ", ".join(said), "the stock")


def _give_rules(wanted: ChargeWanted) -> list[Given]:
    rules = wanted.rules
    givens = [Given("metal needed", print_mass(wanted.needed_mg), "asked for")]
    if rules.per_mille:
        givens.append(Given("the mark", f"{rules.per_mille} of 1000", "the alloy of the cast"))
    givens += rules.givens
    givens.append(Given("step of the scale", print_mass(wanted.step_mg), origin_of(wanted.step_mg)))
    return givens


def _limit_steps(shelf: Shelf, wanted: ChargeWanted) -> list[Step]:
    needed_mg, share = wanted.needed_mg, print_percent(wanted.rules.least_fresh_pct100)
    fresh_mg = wanted.rules.compute_fresh_needed_mg(needed_mg)
    reclaim_mg = sum(lot.usable_mg for lot in shelf.usable if not lot.counts_fresh)
    return [
        Step(f"fresh at least: {share} of {print_mass(needed_mg)}", print_mass(fresh_mg)),
        Step("so reclaim at most", print_mass(needed_mg - fresh_mg)),
        Step("reclaim that may go in", print_mass(reclaim_mg)),
    ]


def _sum_steps(lines: Sequence[ProposedPortion], sums: ChargeSums | None, wanted: ChargeWanted) -> list[Step]:
    if sums is None:
        return []
    steps = [Step(line.label, print_mass(line.mass_mg)) for line in lines]
    steps.append(Step("together", print_mass(sums.mass_mg)))
    mark = wanted.rules.per_mille
    if mark:
        steps += [
            Step(
                f"fine metal wanted: {print_mass(sums.mass_mg)} × {mark} ÷ 1000",
                print_fine(sums.mass_mg * mark),
            ),
            Step("fine metal in it", print_fine(sums.fine_ug)),
        ]
    steps.append(Step("fresh", print_percent(sums.fresh_pct100)))
    steps.append(Step("after the pour", print_melts(sums.melts_milli)))
    return steps
