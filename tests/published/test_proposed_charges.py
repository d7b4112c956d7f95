"""Proposed charges against books: what they blend, raise and lower, and what they say cannot be done."""

from fractions import Fraction

import pytest

from inventory.core.charge import ChargeRules
from inventory.core.charge_shelf import Bind, ChargeWanted
from inventory.core.proposing import propose_charge
from studio.kit.measures import MASS
from studio.kit.units import MICRO_PER_UNIT
from tests.inventory.shelves import a_lot, alloying, masses_of, reclaim

CARAT = Fraction(1000, 24)
OUNCE_MG = MASS.read("1 ozt")
PENNYWEIGHT_MG = MASS.read("1 dwt")


def _to_the_milligram(needed_mg, per_mille, **more):
    return ChargeWanted(needed_mg, ChargeRules(per_mille), step_mg=1, smallest_mg=1, **more)


def _grains(pennyweights, grains):
    return MASS.read(f"{24 * pennyweights + grains} grains")


def test_six_ounces_of_pure_gold_come_down_to_sixteen_carat_with_three_of_alloy():
    """Warren, Manual of Mechanical Dentistry and Metallurgy, p. 206; read. 16 ct is 667 in whole thousandths."""
    shelf = [alloying(1, 6 * OUNCE_MG, 1_000), alloying(2, 6 * OUNCE_MG, 0)]
    masses = masses_of(propose_charge(shelf, _to_the_milligram(9 * OUNCE_MG, 667, metal="gold")).instead)
    assert masses[1] == pytest.approx(6 * OUNCE_MG, rel=2e-3)
    assert masses[2] == pytest.approx(3 * OUNCE_MG, rel=2e-3)


def test_three_pennyweights_of_sixteen_carat_rise_to_eighteen_with_one_of_pure_gold():
    """Warren p. 207; read: 1 dwt takes 1/3 dwt."""
    of_sixteen = a_lot(1, 3 * PENNYWEIGHT_MG, fine_ug=-(-3 * PENNYWEIGHT_MG * 2_000 // 3))
    shelf = [of_sixteen, alloying(2, 9 * PENNYWEIGHT_MG, 1_000)]
    proposal = propose_charge(shelf, _to_the_milligram(4 * PENNYWEIGHT_MG, 750, metal="gold"))
    assert masses_of(proposal) == {1: 3 * PENNYWEIGHT_MG, 2: PENNYWEIGHT_MG}


def test_base_metal_cannot_bring_twenty_and_eighteen_carat_to_twenty_two():
    """The mean is 18 10/13, so only finer metal can; read in an 18th-century arithmetic book, its title not kept."""
    pound_mg = 12 * OUNCE_MG
    shelf = [
        a_lot(1, 5 * pound_mg, fine_ug=int(5 * pound_mg * 20 * CARAT)),
        a_lot(2, 8 * pound_mg, fine_ug=int(8 * pound_mg * 18 * CARAT)),
        alloying(3, 9 * pound_mg, 0),
    ]
    (problem,) = propose_charge(shelf[:2], _to_the_milligram(13 * pound_mg, 917, metal="gold")).problems
    assert problem.bind is Bind.MARK
    # 18 10/13 carat are 782.05 thousandths.
    assert problem.sentence.startswith("All that may go in comes to 782.05 per mille")
    assert "of fine gold" in problem.sentence
    (still,) = propose_charge(shelf, _to_the_milligram(13 * pound_mg, 917, metal="gold")).problems
    assert (still.bind, still.missing_mg) == (Bind.MARK, problem.missing_mg)


def test_sixteen_carat_from_eighteen_and_twelve():
    """120 g of 16 ct takes 80 g and 40 g; read in a school text, its title not kept. Fineness is in carats here."""
    shelf = [a_lot(1, 200_000, 18), a_lot(2, 200_000, 12)]
    proposal = propose_charge(shelf, ChargeWanted(120_000, ChargeRules(16)))
    assert masses_of(proposal) == {1: 80_000, 2: 40_000}


def test_a_hundred_grams_of_silver_900_rise_to_sterling():
    """Add 33.333 g of 1000 fine; computed. The milligram above is the first that reaches the mark."""
    shelf = [reclaim(1, 100_000, 900), alloying(2, 100_000, 1_000)]
    proposal = propose_charge(shelf, _to_the_milligram(133_334, 925))
    assert masses_of(proposal) == {1: 100_000, 2: 33_334}
    one_less = propose_charge(shelf, _to_the_milligram(133_333, 925))
    assert masses_of(one_less) == {1: 99_999, 2: 33_334}


def test_a_hundred_grams_of_fine_silver_come_down_to_sterling():
    """Add 8.108 g of copper; computed. With a milligram more the mark is no longer reached."""
    shelf = [alloying(1, 100_000, 1_000), alloying(2, 50_000, 0)]
    assert masses_of(propose_charge(shelf, _to_the_milligram(108_108, 925))) == {1: 100_000, 2: 8_108}
    (problem,) = propose_charge(shelf, _to_the_milligram(108_109, 925)).problems
    assert (problem.bind, problem.missing_mg) == (Bind.MARK, 1)


# Gee, The Silversmith's Handbook (1877, 5th ed. 1921; Project Gutenberg 47816), ch. VI; read.
# Fine silver 56 d per troy ounce in 1885, copper 1 s per avoirdupois pound; printed pence per troy ounce.
GEE = [
    (925, (18, 12), (1, 12), 52),
    (958, (19, 4), (0, 20), 54),
    (900, (18, 0), (2, 0), 50),
    (800, (16, 0), (4, 0), 45),
    (750, (15, 0), (5, 0), 42),
]


@pytest.mark.parametrize(("per_mille", "silver", "copper", "printed_pence"), GEE)
def test_silver_recipes_per_troy_ounce_and_what_they_cost(per_mille, silver, copper, printed_pence):
    silver_micro_per_mg = 56 * MICRO_PER_UNIT // OUNCE_MG
    copper_micro_per_mg = 12 * MICRO_PER_UNIT // MASS.read("1 lb")
    shelf = [
        alloying(1, 10 * OUNCE_MG, 1_000, micro_per_mg=silver_micro_per_mg),
        alloying(2, 10 * OUNCE_MG, 0, micro_per_mg=copper_micro_per_mg),
    ]
    proposal = propose_charge(shelf, _to_the_milligram(OUNCE_MG, per_mille))
    masses = masses_of(proposal)
    # The recipes are in whole grains: 958.33 thousandths are here 958, a third of a thousandth of an ounce less.
    assert masses[1] == pytest.approx(_grains(*silver), abs=OUNCE_MG // 2_500)
    assert masses[2] == pytest.approx(_grains(*copper), abs=OUNCE_MG // 2_500)
    assert abs(printed_pence - Fraction(proposal.cost_micro, MICRO_PER_UNIT)) <= Fraction("0.7")


# Henley's Twentieth Century Formulas (Gutenberg 53143), dwt.gr of gold, silver, copper; read.
HENLEY = [
    pytest.param(750, (18, 0), (2, 18), (3, 18), "17.633", id="labelled 18 ct"),
    pytest.param(791, (20, 0), (2, 6), (3, 12), "18.641", id="labelled 19 ct"),
]


@pytest.mark.parametrize(("mark", "gold", "silver", "copper", "carat"), HENLEY)
def test_a_recipe_that_does_not_reach_its_label_is_not_proposed(mark, gold, silver, copper, carat):
    parts = [_grains(*gold), _grains(*silver), _grains(*copper)]
    shelf = [alloying(1, parts[0], 1_000), alloying(2, parts[1], 0), alloying(3, parts[2], 0)]
    proposal = propose_charge(shelf, _to_the_milligram(sum(parts), mark, metal="gold"))
    (problem,) = proposal.problems
    assert problem.bind is Bind.MARK
    assert proposal.lines == ()
    said = Fraction(problem.sentence.removeprefix("All that may go in comes to ").split()[0])
    assert said / CARAT == pytest.approx(Fraction(carat), abs=0.001)
    # With less of the base metals the label is true.
    assert proposal.instead.fine_ug >= proposal.instead.total_mg * mark


@pytest.mark.parametrize(
    ("per_mille", "mark", "can"), [(588, 585, True), (584, 585, False), (584, 375, True)]
)
def test_gold_goes_into_a_charge_of_a_mark_that_it_reaches_in_full(per_mille, mark, can):
    """Finnish assay authority, its guidance on marking: 588 may be marked 585, 584 only 375; read."""
    proposal = propose_charge([a_lot(1, 30_000, per_mille)], ChargeWanted(20_000, ChargeRules(mark)))
    assert bool(proposal.lines) is can


def test_half_fresh_metal_at_least():
    """Half and half at least fresh; common practice."""
    shelf = [a_lot(1, 100_000), reclaim(2, 100_000)]
    proposal = propose_charge(shelf, ChargeWanted(80_000, ChargeRules(925, 5_000)))
    assert masses_of(proposal) == {1: 40_000, 2: 40_000}
