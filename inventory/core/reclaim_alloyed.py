"""How much reclaim may go back where a charge may be alloyed: the figure of the proposed charge, and what binds it.

Metal kept to alloy with counts as fresh in a charge, as far as its mark allows; and reclaim that is short of the mark
asks for finer metal beside it. What that comes to is no sum of shares, so the charge is proposed and read.
"""

from collections.abc import Sequence
from dataclasses import replace

from studio.kit.printing import print_mass
from studio.kit.working import Given, Step

from .charge import ChargeRules
from .charge_shelf import ChargeWanted, ShelfLot
from .proposing import ProposedPortion, propose_charge
from .reclaim import Bound, MetalLot, ReclaimAllowance, compute_reclaim_allowance

_ALLOYING = "metal kept to alloy with"


def asks_for_a_proposal(shelf: Sequence[ShelfLot], rules: ChargeRules) -> bool:
    """Whether a charge of these lots could be alloyed, or fall short of its mark."""
    has_reclaim = any(not lot.counts_fresh for lot in shelf)
    return has_reclaim and any(lot.is_alloying or _is_short(lot, rules) for lot in shelf)


def _is_short(lot: ShelfLot, rules: ChargeRules) -> bool:
    return lot.held.fine_ug < lot.held.quantity * rules.per_mille


def compute_alloyed_allowance(
    lots: Sequence[MetalLot],
    shelf: Sequence[ShelfLot],
    rules: ChargeRules,
    recent_charges_mg: Sequence[int],
    step_mg: int,
) -> ReclaimAllowance:
    """What a usual charge may take of the clean reclaim among `lots`, as the charge proposed from `shelf` does.

    `rules` has the mark. Without a charge so far, or where nothing could be alloyed, it is what the lots alone allow.
    """
    alone = compute_reclaim_allowance(lots, rules, recent_charges_mg, step_mg)
    if alone.charge_mg is None or not asks_for_a_proposal(shelf, rules):
        return alone
    lines = _propose(shelf, ChargeWanted(alone.charge_mg, rules, step_mg=step_mg))
    of = {lot.key: lot for lot in shelf}
    taken_mg = sum(line.mass_mg for line in lines if of[line.key].is_same and not of[line.key].counts_fresh)
    if taken_mg == alone.may_take_mg:
        return alone
    alloyed_mg = sum(line.mass_mg for line in lines if of[line.key].is_alloying)
    with_it = alone
    if taken_mg > alone.may_take_mg:
        more = MetalLot(0, _ALLOYING, alloyed_mg, is_fresh=True)
        with_it = compute_reclaim_allowance([*lots, more], rules, recent_charges_mg, step_mg)
    is_short = any(_is_short(lot, rules) for lot in shelf if lot.is_same)
    bound = Bound.MARK if is_short and taken_mg < with_it.may_take_mg else with_it.bound
    return _say_taken(with_it, bound, taken_mg, alloyed_mg, rules.per_mille)


def _propose(shelf: Sequence[ShelfLot], wanted: ChargeWanted) -> Sequence[ProposedPortion]:
    proposal = propose_charge(shelf, wanted)
    made = proposal if proposal.lines else proposal.instead
    return made.lines if made else ()


def _say_taken(
    allowance: ReclaimAllowance, bound: Bound, taken_mg: int, alloyed_mg: int, per_mille: int
) -> ReclaimAllowance:
    """The allowance with the figure of the proposed charge, its working with what the charge takes to alloy with."""
    working = allowance.working
    mark = Given("the mark", f"{per_mille} of 1000", "the alloy of the cast")
    words = "in the charge that would be proposed"
    if alloyed_mg:
        words += f", with {print_mass(alloyed_mg)} of {_ALLOYING}"
    notes = [note for note in working.notes if note != allowance.bound.sentence]
    working = replace(
        working,
        givens=(*working.givens, mark),
        steps=(*working.steps, Step(words, print_mass(taken_mg))),
        result=print_mass(taken_mg),
        notes=(bound.sentence, *notes),
    )
    return replace(allowance, may_take_mg=taken_mg, bound=bound, working=working)
