"""A design's own mean beside the studio's, against the closed form of Bühlmann's credibility."""

from fractions import Fraction
from statistics import fmean, variance

import pytest

from inventory.core.credibility import (
    STARTING_K,
    Tally,
    Wider,
    compute_blend,
    compute_wider,
    root,
    tally,
)
from studio.kit.printing import print_mass


def blend(own, wider, usual=None):
    return compute_blend("Mass", print_mass, tally(own), wider, usual)


# Two designs of three pieces each, worked by hand: means 10 and 16, scatters 2 and 8, so within = 10 / 4 = 2.5.
# For equal numbers n the textbook's between is the variance of the means less within / n: 18 - 2.5 / 3 = 17.1667
# (Bühlmann 1967, closed form; from memory).
LIGHT, HEAVY = (9, 10, 11), (14, 16, 18)


def test_the_variances_are_those_of_the_closed_form():
    wider = compute_wider([tally(LIGHT), tally(HEAVY)])
    within = Fraction(5, 2)
    assert (wider.count, wider.groups, wider.mean) == (6, 2, 13)
    assert wider.within == within
    assert wider.between == 18 - within / 3


def test_the_weight_is_n_over_n_plus_k():
    wider = compute_wider([tally(LIGHT), tally(HEAVY)])
    found = blend(LIGHT, wider)
    k = Fraction(5, 2) / (18 - Fraction(5, 6))
    assert found.k == k
    assert found.weight == 3 / (3 + k)
    assert found.mean == found.weight * 10 + (1 - found.weight) * 13
    assert found.value == 10


def test_unequal_numbers_agree_with_a_program_that_does_the_same_in_floats():
    groups = [(4, 6), (10, 11, 12, 13), (7, 9, 8)]
    wider = compute_wider([tally(one) for one in groups])
    count, mean = sum(map(len, groups)), fmean(sum(groups, ()))
    within = sum((len(one) - 1) * variance(one) for one in groups) / (count - len(groups))
    apart = sum(len(one) * (fmean(one) - mean) ** 2 for one in groups)
    between = (apart - 2 * within) / (count - sum(len(one) ** 2 for one in groups) / count)
    assert float(wider.within) == pytest.approx(within)
    assert float(wider.between) == pytest.approx(between)


def test_designs_that_do_not_differ_take_the_mean_of_all():
    wider = compute_wider([tally((9, 11)), tally((11, 9))])
    assert wider.between == 0
    found = blend((9, 11), wider)
    assert found.weight == 0 and found.k is None and found.mean == 10


def test_pieces_that_never_differ_take_their_own_mean():
    wider = compute_wider([tally((5, 5)), tally((7, 7))])
    assert blend((5, 5), wider).weight == 1


def test_one_design_alone_is_its_own_mean_whatever_k_begins_with():
    wider = compute_wider([tally((3, 5))])
    found = blend((3, 5), wider)
    assert wider.between is None and found.k == STARTING_K and found.mean == 4


def test_a_usual_figure_counts_as_so_many_pieces():
    wider = compute_wider([tally(LIGHT), tally(HEAVY)])
    found = blend((20,) * 5, wider, usual=10)
    assert found.mean == 15
    assert blend((), wider, usual=10).mean == 10
    assert "what you wrote" in found.working.givens[2].origin or found.spread == 0


def test_nothing_known_is_said_to_be_nothing():
    found = blend((), Wider())
    assert not found.is_known and found.words == "" and found.working is None
    assert blend((3,), Wider()).value == 3


def test_scaling_is_as_if_each_figure_had_been_scaled():
    factor = Fraction(3, 2)
    assert tally(LIGHT).scaled(factor) == tally(one * factor for one in LIGHT)
    wider = compute_wider([tally(LIGHT), tally(HEAVY)])
    scaled = compute_wider([tally(one * factor for one in group) for group in (LIGHT, HEAVY)])
    assert wider.scaled(factor) == scaled


def test_the_spread_is_the_standard_deviation():
    found = blend((1000, 2000, 3000), compute_wider([tally((1000, 2000, 3000))]))
    assert found.spread == 1000
    assert blend((1,), Wider()).spread is None


def test_the_doubt_about_a_mean_grows_less_with_its_pieces():
    wider = compute_wider([tally(LIGHT), tally(HEAVY)])
    few, many = blend((10, 12), wider), blend((10, 12) * 10, wider)
    # between (1 - Z) is the variance of the mean that is left (Bühlmann, closed form).
    assert few.doubt == wider.between * (1 - few.weight)
    assert many.doubt < few.doubt


def test_the_working_can_be_done_again():
    found = blend((1000, 1200), compute_wider([tally((1000, 1200)), tally((2000, 2100, 2200))]))
    assert found.working.result == found.words
    assert "n ÷ (n + k)" in found.working.formula


@pytest.mark.parametrize(
    ("square", "side"), [(0, 0), (1, 1), (2, 1), (3, 2), (Fraction(1, 4), 1), (Fraction(6, 1), 2), (7, 3)]
)
def test_roots_are_rounded_half_up(square, side):
    assert root(Fraction(square)) == side


def test_no_tally_is_nothing():
    assert Tally().mean == 0 and compute_wider([]) == Wider()
