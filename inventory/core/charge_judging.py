"""What a charge comes to when a person has chosen or changed its portions, rule by rule, and what it costs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from studio.kit.printing import print_fineness, print_mass, print_melts, print_percent
from studio.kit.units import PCT100_WHOLE

from .alloying import compute_lower, compute_raise
from .charge import ChargeSums, compute_charge
from .charge_binding import say_fresh_rule
from .charge_shelf import (
    Bind,
    ChargeWanted,
    Problem,
    ShelfLot,
    is_foreign,
    is_tired,
    say_short,
    say_whose,
)


@dataclass(frozen=True, slots=True)
class Judgement:
    """A charge added up and held against every rule. `sums` is None while nothing is in it.

    `problems` are rules that it breaks; `remarks` are worth knowing and break none.
    """

    sums: ChargeSums | None
    cost_micro: int
    problems: tuple[Problem, ...]
    remarks: tuple[str, ...] = ()


def judge_charge(lots: Sequence[ShelfLot], masses: Mapping[int, int], wanted: ChargeWanted) -> Judgement:
    """Judge milligrams by lot key: against what the lots hold, owner, mark, fresh share, melts and mass needed.

    What a lot does not hold is reckoned at its own rate. Raises ValueError for a mass below zero and KeyError
    for a lot that is not among `lots`.
    """
    by_key = {lot.key: lot for lot in lots}
    if min(masses.values(), default=0) < 0:
        raise ValueError("a portion is not below zero")
    taken = [(by_key[key], mass_mg) for key, mass_mg in masses.items() if mass_mg]
    if not taken:
        return Judgement(None, 0, (Problem(Bind.NOTHING_WANTED, "No metal is written down yet."),))
    sums = compute_charge([lot.portion(mass_mg) for lot, mass_mg in taken], wanted.rules)
    problems = [problem for lot, mass_mg in taken for problem in _check_lot(lot, mass_mg, wanted)]
    problems += _check_sums(sums, taken, wanted)
    return Judgement(
        sums=sums,
        cost_micro=sum(lot.take(mass_mg).cost_micro for lot, mass_mg in taken),
        problems=tuple(problems),
        remarks=_remark(sums, wanted),
    )


def _check_lot(lot: ShelfLot, mass_mg: int, wanted: ChargeWanted) -> list[Problem]:
    problems = []
    if mass_mg > lot.usable_mg:
        sentence = (
            f"{lot.label} has {print_mass(lot.usable_mg)} that is not promised and {print_mass(mass_mg)} are "
            f"to go in: {say_short(lot.usable_mg, mass_mg)}."
        )
        problems.append(Problem(Bind.ON_HAND, sentence, mass_mg - lot.usable_mg))
    if is_foreign(lot, wanted):
        sentence = f"{print_mass(mass_mg)} of {lot.label} belongs to {say_whose(wanted)} and stays theirs."
        problems.append(Problem(Bind.OWNER, sentence))
    if is_tired(lot, wanted):
        sentence = (
            f"{lot.label} has had {print_melts(lot.melts_milli)}, and your limit is "
            f"{print_melts(wanted.rules.most_melts_milli)}: have it refined."
        )
        problems.append(Problem(Bind.MELTS, sentence))
    return problems


def _check_sums(
    sums: ChargeSums, taken: Sequence[tuple[ShelfLot, int]], wanted: ChargeWanted
) -> list[Problem]:
    rules = wanted.rules
    problems = []
    if sums.mass_mg < wanted.needed_mg:
        sentence = (
            f"The charge is {print_mass(sums.mass_mg)} and {print_mass(wanted.needed_mg)} are needed: "
            f"{say_short(sums.mass_mg, wanted.needed_mg)}."
        )
        problems.append(Problem(Bind.TOTAL, sentence, wanted.needed_mg - sums.mass_mg, rules.per_mille))
    if sums.falls_short:
        problems.append(_say_below_mark(sums, wanted))
    fresh_mg = sum(mass_mg for lot, mass_mg in taken if lot.counts_fresh)
    if fresh_mg < wanted.rules.compute_fresh_needed_mg(sums.mass_mg):
        problems.append(_say_too_little_fresh(fresh_mg, sums, wanted))
    if rules.most_melts_milli and sums.melts_milli > rules.most_melts_milli:
        # The remark on melts is the last that a charge gets.
        problems.append(Problem(Bind.MELTS, sums.remarks[-1]))
    return problems


def _say_below_mark(sums: ChargeSums, wanted: ChargeWanted) -> Problem:
    mark, finer = wanted.rules.per_mille, wanted.finer_per_mille
    sentence = f"It comes to {print_fineness(sums.fine_ug, sums.mass_mg)} per mille; the mark is {mark}."
    mend = compute_raise(sums.mass_mg, sums.fine_ug, mark, finer)
    if mend.problem:
        return Problem(Bind.MARK, f"{sentence} {mend.problem}")
    bought = f"{print_mass(mend.add_mg)} of fine {wanted.metal} ({finer})"
    return Problem(Bind.MARK, f"{sentence} Adding {bought} would reach it.", mend.add_mg, finer)


def _say_too_little_fresh(fresh_mg: int, sums: ChargeSums, wanted: ChargeWanted) -> Problem:
    least_pct100 = wanted.rules.least_fresh_pct100
    sentence = (
        f"{say_fresh_rule(least_pct100)}: {print_mass(fresh_mg)} of {print_mass(sums.mass_mg)} is, "
        f"{print_percent(sums.fresh_pct100)}."
    )
    if least_pct100 == PCT100_WHOLE:
        return Problem(Bind.FRESH, f"{sentence} Leave the reclaim out.")
    # What is added is fresh and makes the whole larger as well.
    short = sums.mass_mg * least_pct100 - fresh_mg * PCT100_WHOLE
    add_mg = -(-short // (PCT100_WHOLE - least_pct100))
    sentence += f" {print_mass(add_mg)} more of fresh metal would do."
    return Problem(Bind.FRESH, sentence, add_mg, wanted.rules.per_mille)


def _remark(sums: ChargeSums, wanted: ChargeWanted) -> tuple[str, ...]:
    remarks = []
    over_mg = sums.mass_mg - wanted.needed_mg
    if over_mg > 0:
        remarks.append(f"The charge is {print_mass(over_mg)} more than is needed.")
    mark = wanted.rules.per_mille
    # Less than a thousandth above the mark is what weighing leaves, and no waste.
    if mark and sums.fine_ug >= sums.mass_mg * (mark + 1):
        could_mg = compute_lower(sums.mass_mg, sums.fine_ug, mark).add_mg
        remarks.append(
            f"It comes to {print_fineness(sums.fine_ug, sums.mass_mg)} per mille: it would carry "
            f"{print_mass(could_mg)} of base metal and still reach {mark}."
        )
    return tuple(remarks)
