"""Alloying sums against books: blends, raising, lowering, recipes and labels."""

from fractions import Fraction

import pytest

from inventory.core.alloying import (
    MARK_SOURCE,
    MARKS_PER_MILLE,
    Portion,
    compute_charge_fineness,
    compute_fineness,
    compute_highest_mark,
    compute_lower,
    compute_mark,
    compute_raise,
    is_exempt_by_weight,
)
from inventory.core.ledger import Amount, draw, total_of
from studio.kit.measures import MASS
from studio.kit.units import MICRO_PER_UNIT

CARAT = Fraction(1000, 24)


def _melt(*portions: tuple[int, int]) -> list[Portion]:
    return [Portion("metal", mass, mass * per_mille) for mass, per_mille in portions]


def _grains(pennyweights: int, grains: int) -> int:
    return MASS.read(f"{24 * pennyweights + grains} grains")


def test_six_of_gold_two_of_silver_one_of_copper_is_sixteen_carat():
    """Warren, Manual of Mechanical Dentistry and Metallurgy, p. 206; read."""
    fineness, _ = compute_charge_fineness(_melt((6_000, 1000), (2_000, 0), (1_000, 0)))
    assert fineness == 16 * CARAT


def test_six_ounces_of_pure_gold_come_down_to_sixteen_carat_with_three_ounces():
    """Warren p. 206; read. A whole fineness above 16 ct leaves a hair less alloy."""
    gold_mg = MASS.read("6 ozt")
    mend = compute_lower(gold_mg, gold_mg * 1000, 667)
    assert mend.add_mg == pytest.approx(MASS.read("3 ozt"), rel=2e-3)
    assert 24 * compute_fineness(6 * 1000, 6 + 3) / 1000 == 16


def test_one_pennyweight_of_sixteen_carat_rises_to_eighteen_with_a_third():
    """Warren p. 207; read: add 1/3 dwt of pure gold. 16 ct is 666 2/3, held here exactly as fine metal."""
    mass_mg = 3 * MASS.read("1 dwt")
    mend = compute_raise(mass_mg, mass_mg * 2000 // 3, 750, 1000)
    assert mend.add_mg == MASS.read("1 dwt")


def test_base_metal_cannot_bring_twenty_and_eighteen_carat_to_twenty_two():
    """The mean is 18 10/13, so only finer metal can; read in an 18th-century arithmetic book, its title not kept."""
    mean = Fraction(5 * 20 + 8 * 18, 13)
    assert mean == 18 + Fraction(10, 13)
    mend = compute_lower(13_000, int(13_000 * mean * CARAT), 917)
    assert mend.add_mg == 0
    assert "only finer metal can" in mend.problem


def test_a_hundred_grams_of_silver_900_rise_to_sterling():
    """Add 33.333 g of 1000 fine; computed. The milligram above is the first that reaches the mark."""
    mend = compute_raise(100_000, 100_000 * 900, 925, 1000)
    assert mend.add_mg == 33_334
    assert Fraction(100_000 * 25, 75) == pytest.approx(33_333, abs=1)
    fine_ug = 100_000 * 900
    assert compute_mark(133_334, fine_ug + 33_334_000, 925).reaches
    assert not compute_mark(133_333, fine_ug + 33_333_000, 925).reaches


def test_a_hundred_grams_of_fine_silver_come_down_to_sterling():
    """Add 8.108 g of copper; computed."""
    mend = compute_lower(100_000, 100_000 * 1000, 925)
    assert mend.add_mg == 8_108
    assert compute_mark(108_108, 100_000_000, 925).reaches
    assert not compute_mark(108_109, 100_000_000, 925).reaches


# Gee, The Silversmith's Handbook (1877, 5th ed. 1921; Project Gutenberg 47816), ch. VI; read.
# Fine silver 56 d per troy ounce in 1885, copper 1 s per avoirdupois pound = 0.823 d per troy ounce.
GEE = [
    ((18, 12), (1, 12), "925.00", 52),
    ((19, 4), (0, 20), "958.33", 54),
    ((18, 0), (2, 0), "900", 50),
    ((16, 0), (4, 0), "800", 45),
    ((15, 0), (5, 0), "750", 42),
]


@pytest.mark.parametrize(("silver", "copper", "per_mille", "printed_pence"), GEE)
def test_silver_recipes_per_troy_ounce_and_their_blended_cost(silver, copper, per_mille, printed_pence):
    pound_mg = MASS.read("1 lb")
    ounce_mg = MASS.read("1 ozt")
    silver_lot = Amount(ounce_mg, ounce_mg * 1000, 56 * MICRO_PER_UNIT)
    copper_lot = Amount(pound_mg, 0, 12 * MICRO_PER_UNIT)
    charge = total_of([draw(silver_lot, _grains(*silver)), draw(copper_lot, _grains(*copper))])
    assert charge.quantity == pytest.approx(ounce_mg, abs=1)
    assert compute_fineness(charge.fine_ug, charge.quantity) == pytest.approx(Fraction(per_mille), abs=0.05)
    assert abs(printed_pence - Fraction(charge.cost_micro, MICRO_PER_UNIT)) <= Fraction("0.7")


# Henley's Twentieth Century Formulas (Gutenberg 53143), dwt.gr of gold, silver, copper; read.
HENLEY = [
    pytest.param(18, (18, 0), (2, 18), (3, 18), "17.633", id="labelled 18 ct"),
    pytest.param(19, (20, 0), (2, 6), (3, 12), "18.641", id="labelled 19 ct"),
]


@pytest.mark.parametrize(("label", "gold", "silver", "copper", "carat"), HENLEY)
def test_a_recipe_that_does_not_reach_its_label_is_refused_the_mark(label, gold, silver, copper, carat):
    melt = _melt((_grains(*gold), 1000), (_grains(*silver), 0), (_grains(*copper), 0))
    fineness, _ = compute_charge_fineness(melt)
    assert fineness / CARAT == pytest.approx(Fraction(carat), abs=0.001)
    mark_per_mille = int(label * CARAT)
    verdict = compute_mark(sum(p.mass_mg for p in melt), sum(p.fine_ug for p in melt), mark_per_mille)
    assert not verdict.reaches
    assert verdict.missing_ug > 0


@pytest.mark.parametrize(("per_mille", "mark"), [(588, 585), (584, 375)])
def test_gold_takes_the_highest_mark_that_it_reaches_in_full(per_mille, mark):
    """Finnish assay authority, its guidance on marking: 588 may be marked 585, 584 only 375; read."""
    marks = MARKS_PER_MILLE["gold"]
    assert compute_highest_mark(10_000, 10_000 * per_mille, marks) == mark


@pytest.mark.parametrize(
    ("metal", "standards"),
    [
        ("silver", (999, 958, 925, 800)),
        ("gold", (999, 990, 916, 750, 585, 375)),
        ("palladium", (999, 950, 500)),
        ("platinum", (999, 950, 900, 850)),
    ],
)
def test_every_standard_of_fineness_is_a_mark(metal, standards):
    """Hallmarking Act 1973, Sched. 2, as amended: the figures from memory."""
    assert MARKS_PER_MILLE[metal] == standards
    for standard in standards:
        assert compute_highest_mark(10_000, 10_000 * standard, MARKS_PER_MILLE[metal]) == standard


@pytest.mark.parametrize(
    ("metal", "first_weight_not_exempt_mg"),
    [("silver", 7_780), ("gold", 1_000), ("palladium", 1_000), ("platinum", 500)],
)
def test_only_articles_of_less_than_the_weight_are_exempt(metal, first_weight_not_exempt_mg):
    """Hallmarking Act 1973, Sched. 1, as amended; read: less than 7.78 g of silver, so exactly 7.78 g is not."""
    assert is_exempt_by_weight(metal, first_weight_not_exempt_mg - 1)
    assert not is_exempt_by_weight(metal, first_weight_not_exempt_mg)


def test_a_mark_has_no_minus_tolerance():
    """Hallmarking Act 1973, s. 1(4A) to (4D); read: one microgram of fine metal short is short.

    Section 1(4) itself is blank in the text as it stands today (read), so it is not cited.
    """
    assert "s. 1(4A) to (4D)" in MARK_SOURCE
    assert compute_mark(100_000, 92_500_000, 925).reaches
    assert not compute_mark(100_000, 92_499_999, 925).reaches
