"""Whatever lies on the shelf: a proposal breaks no rule, misses no charge that exists, and wastes no reclaim."""

from itertools import product

from hypothesis import assume, given
from hypothesis import strategies as st

from inventory.core.charge import ChargeRules
from inventory.core.charge_shelf import Bind, ChargeWanted
from inventory.core.proposing import propose_charge

from .shelves import a_lot, alloying_mg, broken_rules, masses_of, reclaim_mg, with_mends

RULES = st.builds(
    ChargeRules,
    per_mille=st.sampled_from([925, 750, 800, 0]),
    least_fresh_pct100=st.sampled_from([0, 1_000, 3_333, 5_000, 7_000, 10_000]),
    most_melts_milli=st.sampled_from([0, 2_000, 3_000, 4_000]),
)
FINENESS = st.sampled_from([925, 925, 900, 930, 950, 750, 800, 999, 1_000, 0])


@st.composite
def shelves(draw, masses, most_lots=4, hairs_ug=(0,)):
    """Up to `most_lots` lots of any sort; the book's rounding may have left them short by a hair."""
    count = draw(st.integers(1, most_lots))
    lots = []
    for key in range(1, count + 1):
        sort = draw(st.sampled_from(["fresh", "reclaim", "reclaim", "alloying"]))
        mass_mg, per_mille = draw(masses), draw(FINENESS)
        lots.append(
            a_lot(
                key,
                mass_mg,
                fine_ug=max(0, mass_mg * per_mille - draw(st.sampled_from(hairs_ug))),
                is_fresh=sort != "reclaim",
                is_alloying=sort == "alloying",
                melts_milli=draw(st.integers(1_000, 4_500)) if sort == "reclaim" else 0,
                owner=draw(st.sampled_from([None, None, None, 1])),
            )
        )
    return lots


def all_charges(lots, wanted, step_mg, smallest_mg=0):
    """Every charge of whole steps that keeps every rule, found by trying all of them."""
    amounts = [
        [mass for mass in range(0, lot.free_mg + 1, step_mg) if mass == 0 or mass >= smallest_mg]
        for lot in lots
    ]
    for tried in product(*amounts):
        masses = {lot.key: mass for lot, mass in zip(lots, tried, strict=True)}
        if sum(tried) == wanted.needed_mg and not broken_rules(lots, masses, wanted):
            yield masses


def order_of_worth(lots, masses, wanted):
    """What the proposal promises to meet exactly on a shelf of few kinds, the weightiest first."""
    lent = sum(masses.get(lot.key, 0) for lot in lots if lot.owner != wanted.owner)
    fine_ug = sum(masses.get(lot.key, 0) * lot.held.fine_ug // lot.held.quantity for lot in lots)
    above_ug = fine_ug if wanted.rules.per_mille else 0
    return -lent, reclaim_mg(lots, masses), -alloying_mg(lots, masses), -above_ug


STEPS = st.integers(1, 9).map(lambda steps: steps * 1_000)


@given(
    lots=shelves(STEPS),
    rules=RULES,
    needed=st.integers(1, 20),
    owner=st.sampled_from([None, 1]),
    smallest=st.sampled_from([1_000, 2_000, 3_000]),
)
def test_no_charge_of_whole_steps_is_better_than_the_proposed_one(lots, rules, needed, owner, smallest):
    wanted = ChargeWanted(needed * 1_000, rules, owner, smallest_mg=smallest, step_mg=1_000)
    proposal = propose_charge(lots, wanted)
    charges = list(all_charges(lots, wanted, 1_000, smallest))
    if charges:
        assert proposal.problems == ()
        masses = masses_of(proposal)
        assert broken_rules(lots, masses, wanted) == set()
        assert all(mass % 1_000 == 0 and mass >= smallest for mass in masses.values())
        best = max(order_of_worth(lots, charge, wanted) for charge in charges)
        assert order_of_worth(lots, masses, wanted) == best


@given(lots=shelves(st.integers(1, 12), 3), rules=RULES, needed=st.integers(1, 24))
def test_a_charge_that_can_be_made_to_the_milligram_is_found(lots, rules, needed):
    wanted = ChargeWanted(needed, rules)
    proposal = propose_charge(lots, wanted)
    charges = list(all_charges(lots, wanted, 1))
    if charges:
        assert proposal.problems == ()
        best = max(order_of_worth(lots, charge, wanted) for charge in charges)
        assert order_of_worth(lots, masses_of(proposal), wanted) >= best
    else:
        # Only the book's microgram a portion may let one pass that the metal itself does not.
        assert proposal.problems or broken_rules(lots, masses_of(proposal), wanted) == {Bind.MARK}


ANY_MASS = st.integers(1, 60_000)
HAIRS_UG = (0, 0, 1, 3, 12)


@given(
    lots=shelves(ANY_MASS, 9, HAIRS_UG),
    rules=RULES,
    needed=st.integers(1, 90_000),
    owner=st.sampled_from([None, 1]),
)
def test_a_proposal_breaks_no_rule_and_a_refusal_says_why(lots, rules, needed, owner):
    wanted = ChargeWanted(needed, rules, owner)
    proposal = propose_charge(lots, wanted)
    if proposal.problems:
        assert proposal.lines == () and proposal.sums is None
        assert all(problem.sentence.endswith(".") for problem in proposal.problems)
    else:
        assert broken_rules(lots, masses_of(proposal), wanted) <= {Bind.MARK}
        short_ug = needed * rules.per_mille - proposal.fine_ug
        assert short_ug <= len(proposal.lines)
        used_up = {lot.key: lot.free_mg for lot in lots}
        off_step = [line for line in proposal.lines if line.mass_mg % 10 and line.mass_mg < used_up[line.key]]
        assert len(off_step) <= 4
    named = [line.key for line in proposal.lines] + [one.key for one in proposal.left_out]
    assert len(named) == len(set(named))


@given(
    lots=shelves(ANY_MASS, 6, HAIRS_UG),
    rules=RULES,
    needed=st.integers(1, 90_000),
    owner=st.sampled_from([None, 1]),
)
def test_what_the_problems_ask_for_makes_the_charge_possible(lots, rules, needed, owner):
    wanted = ChargeWanted(needed, rules, owner)
    proposal = propose_charge(lots, wanted)
    assume(proposal.problems)
    mended = with_mends(lots, proposal.problems, wanted)
    again = propose_charge(mended, wanted)
    assert again.problems == ()
    assert broken_rules(mended, masses_of(again), wanted) <= {Bind.MARK}


@given(lots=shelves(STEPS, 3), rules=RULES, needed=st.integers(1, 20))
def test_what_can_be_cast_instead_is_the_most_that_the_rules_allow(lots, rules, needed):
    wanted = ChargeWanted(needed * 1_000, rules, smallest_mg=1_000, step_mg=1_000)
    proposal = propose_charge(lots, wanted)
    assume(proposal.problems)
    smaller = [
        total * 1_000
        for total in range(needed, 0, -1)
        if any(True for _ in all_charges(lots, ChargeWanted(total * 1_000, rules), 1_000))
    ]
    assert (proposal.instead.total_mg if proposal.instead else 0) == max(smaller, default=0)
