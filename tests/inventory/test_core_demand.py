"""What a week takes, and what may be taken before a parcel comes."""

from collections import Counter
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.core.demand import compute_enough, compute_lumpy_rate, sum_weeks, weeks_until_empty
from tests.thorough import examples

SELDOM = [0, 0, 5, 0, 0, 0, 3, 0, 4, 0, 0, 2]
LUMPS = [0, 0, 0, 2, 0, 5]


def test_seldom_used_stock_has_the_published_rates():
    """1.4871280508 and 1.4127716483: statsforecast 2.1.1, worked again by hand."""
    rate = compute_lumpy_rate(SELDOM)
    assert round(rate.croston, 10) == round(Fraction("1.4871280508"), 10)
    assert round(rate.unbiased, 10) == round(Fraction("1.4127716483"), 10)
    assert rate.uses == 4


def test_what_was_never_used_has_no_rate():
    assert compute_lumpy_rate([0, 0]).unbiased == compute_lumpy_rate([]).croston == 0


@pytest.mark.parametrize(("certainty_pct100", "enough"), [(9_000, 7), (9_500, 10), (9_900, 12)])
def test_weeks_drawn_again_have_the_published_quantiles(certainty_pct100, enough):
    """Of the six weeks three are drawn: 7, 10 and 12 are enough 90, 95 and 99 times in a hundred, counted out."""
    assert compute_enough([sum_weeks(LUMPS, 3)], certainty_pct100) == enough


@settings(max_examples=examples(20))
@given(st.lists(st.integers(0, 9), min_size=1, max_size=4), st.integers(0, 4), st.integers(1, 3))
def test_every_draw_is_counted(weekly, weeks, step):
    sums = sum_weeks(weekly, weeks, step)
    counted = Counter(sum(-(-one // step) for one in drawn) for drawn in product(weekly, repeat=weeks))
    assert {place: ways for place, ways in enumerate(sums.ways) if ways} == counted
    assert sums.total == len(weekly) ** weeks == sum(sums.ways)


@settings(max_examples=examples(20))
@given(st.lists(st.integers(0, 7), min_size=1, max_size=4).filter(any), st.integers(0, 3))
def test_a_use_takes_stock_past_the_level_from_any_part_of_it(weekly, weeks):
    """Each unit of each use is once the one that reaches the level: what the use takes after it is lacked."""
    sums = sum_weeks(weekly, weeks, 1, from_level=True)
    past = [after for used in weekly for after in range(used)]
    counted = Counter(lacked + sum(drawn) for lacked in past for drawn in product(weekly, repeat=weeks))
    assert {place: ways for place, ways in enumerate(sums.ways) if ways} == counted
    assert sums.total == sum(sums.ways)


def test_leads_that_differ_are_mixed():
    """One week or three, as likely: at most 5 are taken in a week, at most 5 in three 172 times in 216."""
    spreads = [sum_weeks(LUMPS, 1), sum_weeks(LUMPS, 3)]
    chance = (1 + spreads[1].chance_at_most(5)) / 2
    assert chance == (1 + Fraction(172, 216)) / 2
    assert compute_enough(spreads, 8_980) == 5 and compute_enough(spreads, 8_990) == 6


def test_heavy_weeks_are_told_apart_by_a_step_and_never_taken_for_less():
    weekly = [0, 612_345, 1_200_001]
    sums = sum_weeks(weekly, 2)
    assert sums.step == 2_400
    assert sums.chance_at_most(2 * 1_200_001 - 1) < 1 == sums.chance_at_most(2 * 1_200_001 + 2 * sums.step)
    assert sums.chance_at_most(-1) == 0


def test_it_is_empty_between_an_early_week_and_a_late_one():
    """One in a week with every second of them, two here: the third use at the earliest in the third week."""
    assert weeks_until_empty([0, 1], 2, 1_200) == 3
    assert weeks_until_empty([0, 1], 2, 5_000) == 5
    assert weeks_until_empty([1], 2, 9_000) == 3


def test_what_is_not_used_never_ends_and_what_lasts_long_is_not_told():
    assert weeks_until_empty([0, 0], 5, 1_000) is None
    assert weeks_until_empty([1], 200, 1_000) is None


@pytest.mark.parametrize("certainty_pct100", [0, 10_000])
def test_nothing_is_certain(certainty_pct100):
    with pytest.raises(ValueError, match="certainty"):
        compute_enough([sum_weeks(LUMPS, 1)], certainty_pct100)


def test_odd_questions_are_refused():
    with pytest.raises(ValueError, match="weeks"):
        sum_weeks([], 2)
    with pytest.raises(ValueError, match="weeks"):
        sum_weeks([1], -1)
    with pytest.raises(ValueError, match="weeks"):
        sum_weeks([0, 0], 2, from_level=True)
    with pytest.raises(ValueError, match="same steps"):
        compute_enough([sum_weeks([1], 1), sum_weeks([1], 1, 2)], 9_000)
