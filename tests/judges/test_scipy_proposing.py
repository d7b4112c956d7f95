"""Proposed charges against scipy.optimize.milp, which solves the same program in its own way."""

import random

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from inventory.core.charge import ChargeRules
from inventory.core.charge_shelf import ChargeWanted
from inventory.core.proposing import propose_charge
from tests.inventory.shelves import a_lot as fresh
from tests.inventory.shelves import alloying, alloying_mg, broken_rules, masses_of, reclaim, reclaim_mg

STEP_MG = 10
# Where many kinds of metal lie on the shelf, the search may end so near to the least alloying metal.
A_FEW_STEPS = 3
RULES = [(925, 5_000, 4_000), (925, 2_500, 3_000), (925, 0, 4_000), (925, 0, 0), (750, 3_333, 3_000)]


def judge(lots, wanted):
    """(most reclaim, least alloying metal with it) in steps; None where no charge keeps the rules."""
    rules = wanted.rules
    fresh_ones = np.array([lot.counts_fresh for lot in lots])
    per_mille = np.array([lot.held.fine_ug // lot.held.quantity for lot in lots])
    melts = np.array([lot.melts_milli for lot in lots])
    may_go_in = fresh_ones | (melts < (rules.most_melts_milli or 10**9))
    kept = [
        LinearConstraint(np.ones(len(lots)), *[wanted.needed_mg // STEP_MG] * 2),
        LinearConstraint(per_mille - rules.per_mille, 0, np.inf),
        LinearConstraint(fresh_ones * 10_000 - rules.least_fresh_pct100, 0, np.inf),
    ]
    if rules.most_melts_milli:
        kept.append(LinearConstraint(rules.most_melts_milli - 1_000 - melts, 0, np.inf))
    bounds = Bounds(0, np.array([lot.free_mg // STEP_MG for lot in lots]) * may_go_in)
    options = {"mip_rel_gap": 0, "time_limit": 20}
    most = milp(-1 * ~fresh_ones, constraints=kept, bounds=bounds, integrality=1, options=options)
    if most.x is None:
        return None
    reclaim_steps = round(-most.fun)
    kept.append(LinearConstraint(1 * ~fresh_ones, reclaim_steps, np.inf))
    is_alloying = np.array([int(lot.is_alloying) for lot in lots])
    least = milp(is_alloying, constraints=kept, bounds=bounds, integrality=1, options=options)
    return reclaim_steps, round(least.fun)


def invent_shelf(dice, count, melts, finenesses):
    """Fresh metal, a tin of reclaim, and metal to alloy with; masses are steps of the scale."""

    def mass(most_steps):
        return dice.randint(20, most_steps) * STEP_MG

    lots = [reclaim(key, mass(2_500), dice.choice(finenesses), dice.choice(melts)) for key in range(count)]
    lots += [fresh(100 + key, mass(6_000), dice.choice(finenesses)) for key in range(dice.randint(1, 3))]
    return [*lots, alloying(200, mass(2_000), 999), alloying(201, mass(1_000), 0)]


def check(lots, wanted):
    judged, proposal = judge(lots, wanted), propose_charge(lots, wanted)
    if judged is None:
        # Where no steps of the scale will do, milligrams will not either on these shelves.
        assert proposal.problems
        return
    masses = masses_of(proposal)
    assert broken_rules(lots, masses, wanted) == set()
    most_reclaim, least_alloying = judged
    assert reclaim_mg(lots, masses) // STEP_MG >= most_reclaim
    assert alloying_mg(lots, masses) // STEP_MG <= least_alloying + A_FEW_STEPS


@pytest.mark.parametrize("rules", RULES)
@pytest.mark.parametrize("seed", range(6))
def test_most_reclaim_and_least_alloying_metal_of_a_small_shelf(seed, rules):
    dice = random.Random(seed)
    lots = invent_shelf(dice, 6, [1_000, 1_500, 2_250, 2_900, 3_700], [925, 900, 950, 800])
    needed_mg = dice.randint(2_000, 9_000) * STEP_MG
    check(lots, ChargeWanted(needed_mg, ChargeRules(*rules), smallest_mg=STEP_MG))


@pytest.mark.parametrize("rules", RULES)
@pytest.mark.parametrize("seed", range(2))
def test_a_tin_of_sixty_small_lots(seed, rules):
    dice = random.Random(100 + seed)
    lots = invent_shelf(dice, 60, [1_000, 1_500, 2_000, 2_500, 3_000], [925, 925, 925, 900])
    check(lots, ChargeWanted(dice.randint(5_000, 12_000) * STEP_MG, ChargeRules(*rules), smallest_mg=STEP_MG))


@pytest.mark.parametrize("seed", range(2))
def test_sixty_lots_of_which_no_two_are_alike(seed):
    dice = random.Random(200 + seed)
    lots = invent_shelf(dice, 60, range(1_000, 4_000), range(780, 990))
    check(
        lots, ChargeWanted(dice.randint(5_000, 12_000) * STEP_MG, ChargeRules(*RULES[0]), smallest_mg=STEP_MG)
    )
