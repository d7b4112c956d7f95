"""What the next charge may take of the tin is what a proposed charge does take."""

from hypothesis import given
from hypothesis import strategies as st

from inventory.core.charge import ChargeRules
from inventory.core.charge_shelf import ChargeWanted
from inventory.core.proposing import propose_charge
from inventory.core.reclaim import MetalLot, compute_reclaim_allowance
from tests.inventory.shelves import a_lot, masses_of, reclaim, reclaim_mg

FRESH = st.lists(st.integers(1, 120_000), max_size=2)
TIN = st.lists(st.tuples(st.integers(1, 120_000), st.integers(0, 5_000)), max_size=3)
RULES = st.builds(
    ChargeRules,
    st.just(925),
    st.integers(0, 10_000),
    st.sampled_from([0, 500, 1_000, 1_500, 2_000, 3_000, 4_000]),
)


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
