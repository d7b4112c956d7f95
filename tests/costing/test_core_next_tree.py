"""The next tree: held against trying every tree there is."""

from dataclasses import replace
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from costing.core.next_tree import (
    MetalLimit,
    Waiting,
    choose_tree,
    compute_metal_for_patterns,
    expect_money,
    work_tree,
)
from tests.workings import find_fault

UNIT = 1_000_000


def casting(label="Leaf", most=5, metal_g=5, room=10, money=20, turn=None):
    return Waiting(
        label=label,
        most=most,
        metal_mg=metal_g * 1000,
        room=Fraction(room, 100),
        money_micro=money * UNIT,
        turn=turn,
    )


def try_all(waiting, metal_mg):
    """(of each turn how many, money) of the best tree, by trying every one."""
    turns = sorted({one.turn for one in waiting if one.turn is not None})
    best = None
    for counts in product(*(range(one.most + 1) for one in waiting)):
        pairs = list(zip(counts, waiting, strict=True))
        if sum(count * one.metal_mg for count, one in pairs) > metal_mg:
            continue
        if sum(count * one.room for count, one in pairs) > 1:
            continue
        due = tuple(sum(count for count, one in pairs if one.turn == turn) for turn in turns)
        worth = (*due, sum(count * one.money_micro for count, one in pairs))
        best = worth if best is None else max(best, worth)
    return best


castings = st.builds(
    casting,
    most=st.integers(0, 4),
    metal_g=st.integers(1, 30),
    room=st.integers(1, 60),
    money=st.integers(-10, 90),
    turn=st.sampled_from([None, None, 0, 1]),
)


@settings(max_examples=60)
@given(st.lists(castings, max_size=5), st.integers(0, 120))
def test_no_tree_that_fits_is_better(waiting, metal_g):
    tree = choose_tree(waiting, metal_g * 1000)
    assert tree.metal_mg <= metal_g * 1000 and tree.room <= 1
    turns = sorted({one.turn for one in waiting if one.turn is not None})
    pairs = list(zip(tree.counts, waiting, strict=True))
    due = tuple(sum(count for count, one in pairs if one.turn == turn) for turn in turns)
    assert (*due, tree.money_micro) == try_all(waiting, metal_g * 1000)


def test_what_is_ordered_goes_before_what_is_worth_more():
    ring, stud = casting("Ring", most=2, metal_g=10, money=100), casting("Stud", metal_g=10, money=1, turn=1)
    brooch = casting("Brooch", most=1, metal_g=20, money=-5, turn=0)
    assert choose_tree([ring, stud, brooch], 40_000).counts == (0, 2, 1)
    assert choose_tree([ring, stud, brooch], 30_000).counts == (0, 1, 1)


def test_what_leaves_nothing_is_not_cast_for_the_shelf():
    assert choose_tree([casting(money=-1), casting(money=0)], 100_000).counts == (0, 0)


def test_a_dozen_designs_of_a_dozen_each_are_chosen_from_at_once():
    waiting = [
        casting(f"Design {n}", most=12, metal_g=3 + n % 5, room=3 + n * 7 % 11, money=10 + n * 13 % 37)
        for n in range(12)
    ]
    tree = choose_tree(waiting, 150_000)
    assert sum(tree.counts) > 10 and tree.room <= 1


def test_a_casting_takes_metal_and_room():
    with pytest.raises(ValueError, match="metal and room"):
        choose_tree([casting(metal_g=0)], 10_000)


def test_a_casting_that_fails_gives_its_metal_back_and_costs_its_work():
    # 0.9 x (60 - 12) - 9 = 34.20, by hand.
    assert expect_money(60 * UNIT, 12 * UNIT, 9 * UNIT, 1_000) == 34_200_000


def test_what_castings_may_weigh_is_what_may_be_charged_less_loss_button_and_sprues():
    limit = MetalLimit(
        crucible_mg=220_000,
        shelf_mg=101_000,
        sprues_pct100=2_500,
        button_pct100=1_000,
        least_button_mg=5_000,
        lost_pct100=100,
    )
    # By hand: 101 x 0.99 = 99.99; / 1.1 = 90.9; / 1.25 = 72.72.
    left_mg, working = compute_metal_for_patterns(limit)
    assert left_mg == 72_720
    assert working.result == "72.72\u00a0g"


def test_a_small_charge_keeps_the_least_button():
    left_mg, _ = compute_metal_for_patterns(
        MetalLimit(shelf_mg=20_000, button_pct100=1_000, least_button_mg=5_000)
    )
    assert left_mg == 15_000
    assert compute_metal_for_patterns(MetalLimit(shelf_mg=4_000, least_button_mg=5_000))[0] == 0
    assert compute_metal_for_patterns(MetalLimit()) is None


def test_the_working_adds_up():
    waiting = [casting(most=3), casting("Stud", most=2, metal_g=2, room=5, money=8)]
    tree = choose_tree(waiting, 15_000)
    said = work_tree(waiting, tree, 15_000)
    assert said.result == f"{sum(tree.counts)} castings, {tree.money_micro // UNIT}.00 expected to be left"
    dozen = [replace(casting("Stud", most=12, metal_g=1, room=5), money_micro=18_204_625)]
    steps = work_tree(dozen, choose_tree(dozen, 15_000), 15_000).steps
    assert {find_fault(step) for step in steps} == {"", None}, (
        "rounded before it is multiplied it is off by more"
    )
    assert any("3 × 5.00" in step.text for step in said.steps) or tree.counts[0] != 3
