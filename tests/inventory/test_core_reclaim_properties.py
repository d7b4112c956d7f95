"""What the next charge may take of the tin is what a proposed charge does take."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.core.charge import ChargeRules
from inventory.core.charge_shelf import ChargeWanted
from inventory.core.proposing import propose_charge
from inventory.core.reclaim import MetalLot, compute_reclaim_allowance
from inventory.core.reclaim_alloyed import asks_for_a_proposal, compute_alloyed_allowance
from studio.kit.printing import print_mass
from tests.inventory.shelves import a_lot, alloying, masses_of, reclaim, reclaim_mg

FRESH = st.lists(st.integers(1, 120_000), max_size=2)
TIN = st.lists(st.tuples(st.integers(1, 120_000), st.integers(0, 5_000)), max_size=3)
RULES = st.builds(
    ChargeRules,
    st.just(925),
    st.integers(0, 10_000),
    st.sampled_from([0, 500, 1_000, 1_500, 2_000, 3_000, 4_000]),
)


STEP_MG = 10
HELD = st.integers(0, 40_000)
ANY_FRESH = st.lists(st.tuples(st.integers(2_000, 120_000), HELD), max_size=3)
#: A lot in a tin of its own: how much, how often it was melted, what plans hold of it, whether it may be melted.
ANY_TIN = st.lists(
    st.tuples(st.integers(2_000, 120_000), st.integers(0, 5_000), HELD, st.booleans()), max_size=4
)


@settings(max_examples=200)
@given(ANY_FRESH, ANY_TIN, RULES, st.integers(100, 15_000))
def test_on_a_shelf_that_is_weighed_and_promised_it_still_is_the_proposals(fresh, tin, rules, steps):
    lots = [MetalLot(0, "fresh", mass, is_fresh=True, promised_mg=held) for mass, held in fresh]
    lots += [MetalLot(0, "tin", mass, melts, False, may, held) for mass, melts, held, may in tin]
    lots = [replace(lot, key=key) for key, lot in enumerate(lots, start=1)]
    shelf = [
        a_lot(
            lot.key,
            lot.mass_mg,
            is_fresh=lot.is_fresh,
            melts_milli=lot.melts_milli,
            free_mg=max(lot.mass_mg - lot.promised_mg, 0),
        )
        for lot in lots
        if lot.is_clean
    ]
    allowance = compute_reclaim_allowance(lots, rules, [steps * STEP_MG], STEP_MG)
    wanted = ChargeWanted(steps * STEP_MG, rules, step_mg=STEP_MG, smallest_mg=STEP_MG)
    proposal = propose_charge(shelf, wanted)
    made = proposal if proposal.lines else proposal.instead
    assert allowance.may_take_mg == (reclaim_mg(shelf, masses_of(made)) if made else 0)


#: Metal kept to alloy with: how much, and of what fineness.
ALLOYING = st.lists(st.tuples(st.integers(100, 60_000), st.sampled_from([999, 0])), max_size=2)
OFTEN = st.sampled_from([925, 925, 924, 930])


@settings(max_examples=200)
@given(
    FRESH,
    st.lists(st.tuples(st.integers(100, 60_000), st.integers(0, 4_000), OFTEN), max_size=2),
    ALLOYING,
    RULES,
    st.integers(100, 9_000),
)
def test_with_metal_to_alloy_with_it_still_is_the_proposals(fresh, tin, kept, rules, steps):
    shelf = [a_lot(key, mass) for key, mass in enumerate(fresh)]
    shelf += [
        reclaim(key, mass, fine, melts_milli=melts) for key, (mass, melts, fine) in enumerate(tin, start=10)
    ]
    lots = [MetalLot(one.key, one.label, one.usable_mg, one.melts_milli, one.is_fresh) for one in shelf]
    shelf += [alloying(key, mass, fine, is_same=False) for key, (mass, fine) in enumerate(kept, start=20)]
    charge_mg = steps * STEP_MG
    allowance = compute_alloyed_allowance(lots, shelf, rules, [charge_mg], STEP_MG)
    proposal = propose_charge(shelf, ChargeWanted(charge_mg, rules, step_mg=STEP_MG))
    made = proposal if proposal.lines else proposal.instead
    taken_mg = reclaim_mg(shelf, masses_of(made)) if made else 0
    if asks_for_a_proposal(shelf, rules):
        assert allowance.may_take_mg == taken_mg
        assert allowance.working.result.startswith(print_mass(taken_mg))
    assert allowance.working.notes[0] == allowance.bound.sentence


@given(FRESH, TIN, RULES, st.integers(1, 150_000))
def test_the_reclaim_that_the_next_cast_may_take_is_the_proposals(fresh, tin, rules, charge_mg):
    shelf = [a_lot(key, mass_mg) for key, mass_mg in enumerate(fresh, start=1)]
    shelf += [
        reclaim(key, mass_mg, melts_milli=melts)
        for key, (mass_mg, melts) in enumerate(tin, start=len(fresh) + 1)
    ]
    lots = [MetalLot(one.key, one.label, one.usable_mg, one.melts_milli, one.is_fresh) for one in shelf]
    allowance = compute_reclaim_allowance(lots, rules, [charge_mg])
    proposal = propose_charge(shelf, ChargeWanted(charge_mg, rules, step_mg=1, smallest_mg=1))
    made = proposal if proposal.lines else proposal.instead
    assert allowance.may_take_mg == (reclaim_mg(shelf, masses_of(made)) if made else 0)
