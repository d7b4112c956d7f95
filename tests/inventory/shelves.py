"""Invented shelves for charges: a lot is a mass and a fineness, and what is said besides."""

from datetime import date, timedelta
from fractions import Fraction

from inventory.core.charge import ChargeRules
from inventory.core.charge_shelf import Bind, ChargeWanted, Problem, ShelfLot, is_foreign, is_tired
from inventory.core.ledger import Amount
from inventory.core.proposing import Proposal

FIRST_DAY = date(2026, 1, 5)
HALF_FRESH = ChargeRules(per_mille=925, least_fresh_pct100=5_000, most_melts_milli=4_000)
ANY_SHARE = ChargeRules(per_mille=925)


def a_lot(key, mass_mg, per_mille=925, **more):
    """Fresh metal of the studio's own; day `key`, 0.80 a gram."""
    cost_micro = mass_mg * more.pop("micro_per_mg", 800)
    fine_ug = more.pop("fine_ug", mass_mg * per_mille)
    defaults = {"free_mg": mass_mg, "day": FIRST_DAY + timedelta(days=key)}
    label = more.pop("label", f"lot {key}")
    return ShelfLot(key, label, Amount(mass_mg, fine_ug, cost_micro), **{**defaults, **more})


def reclaim(key, mass_mg, per_mille=925, melts_milli=1_500, **more):
    return a_lot(key, mass_mg, per_mille, is_fresh=False, melts_milli=melts_milli, **more)


def alloying(key, mass_mg, per_mille, **more):
    return a_lot(key, mass_mg, per_mille, is_alloying=True, **more)


def masses_of(proposal: Proposal) -> dict[int, int]:
    return {line.key: line.mass_mg for line in proposal.lines}


def reclaim_mg(lots, masses) -> int:
    return sum(masses.get(lot.key, 0) for lot in lots if not lot.counts_fresh)


def alloying_mg(lots, masses) -> int:
    return sum(masses.get(lot.key, 0) for lot in lots if lot.is_alloying)


def broken_rules(lots, masses: dict[int, int], wanted: ChargeWanted) -> set[Bind]:
    """The rules that masses break, from their plain meaning: exact, with no word of the code under test.

    The mark is asked of the metal itself, so a microgram of the book's rounding does not count here.
    """
    taken = [(lot, masses[lot.key]) for lot in lots if masses.get(lot.key)]
    total_mg = sum(mass for _, mass in taken)
    rules = wanted.rules
    fine = sum((Fraction(mass * lot.held.fine_ug, lot.held.quantity) for lot, mass in taken), Fraction(0))
    fresh_mg = sum(mass for lot, mass in taken if lot.is_fresh or lot.is_alloying)
    melts = sum(mass * lot.melts_milli for lot, mass in taken)
    broken = {
        Bind.TOTAL: total_mg != wanted.needed_mg,
        Bind.ON_HAND: any(mass < 0 or mass > min(lot.free_mg, lot.held.quantity) for lot, mass in taken),
        Bind.MARK: fine < total_mg * rules.per_mille,
        Bind.FRESH: fresh_mg * 10_000 < total_mg * rules.least_fresh_pct100,
        Bind.MELTS: any(is_tired(lot, wanted) for lot, _ in taken)
        or (rules.most_melts_milli > 0 and melts > total_mg * max(0, rules.most_melts_milli - 1_000)),
        Bind.OWNER: any(is_foreign(lot, wanted) for lot, _ in taken),
    }
    return {bind for bind, is_broken in broken.items() if is_broken}


def with_mends(lots, problems: tuple[Problem, ...], wanted: ChargeWanted) -> list[ShelfLot]:
    """The shelf after buying what every problem asks for."""
    bought = [
        a_lot(9_000 + place, problem.missing_mg, problem.add_per_mille, owner=wanted.owner)
        for place, problem in enumerate(problems)
        if problem.missing_mg
    ]
    return [*lots, *bought]
