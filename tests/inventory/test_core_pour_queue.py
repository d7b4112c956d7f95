"""Several flasks of one firing: the order of their pours, and nothing in two places at once."""

from itertools import groupby, pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.core.pour_queue import (
    HAND_MINUTES,
    Bench,
    Waiting,
    compute_cooled_c,
    compute_turns,
    order_flasks,
)

SILVER = Waiting(8, "silver", 0, "cup", 675)
BRONZE = Waiting(11, "copper alloy", 2, "bronze cup", 590)
BRASS = Waiting(10, "copper alloy with zinc", 3, "brass cup", 540)

BENCHES = st.builds(
    Bench, st.integers(0, 40), st.integers(0, 6), st.integers(0, 12), st.integers(0, 9), st.integers(0, 30)
)
FAMILIES = st.sampled_from([("silver", 0), ("gold", 0), ("copper alloy", 2), ("brass", 3)])
FLASKS = st.builds(
    lambda melt, family, crucible, hot, wait: Waiting(melt, *family, crucible, hot, wait),
    st.integers(1, 40),
    FAMILIES,
    st.sampled_from(["", "other cup"]),
    st.sampled_from([None, 540, 675]),
    st.sampled_from([None, 0, 8, 25]),
)


def test_clean_metal_goes_before_bronze_and_brass_comes_last():
    assert order_flasks((BRASS, BRONZE, SILVER), Bench()) == (2, 1, 0)


def test_a_flask_alone_keeps_the_studios_own_times():
    (turn,) = compute_turns((SILVER,), Bench(lead_minutes=20))
    assert (turn.metal_in, turn.pour, turn.quench) == (-20, 0, 15)
    (turn,) = compute_turns((SILVER,), Bench(lead_minutes=20), first_in=-50)
    assert turn.metal_in == -50
    # Also where its melt is longer than that: the studio knows its melter.
    (turn,) = compute_turns((Waiting(60),), Bench(lead_minutes=20))
    assert (turn.metal_in, turn.melted) == (-20, 0)


def test_silver_and_bronze_by_hand():
    """Worked out on paper: a minute to pour, five for another crucible, 11 to melt, one for the flask: poured at 18."""
    silver, bronze = compute_turns((BRONZE, SILVER), Bench())
    assert (silver.place, silver.metal_in, silver.melted, silver.out, silver.pour) == (1, -20, -12, -1, 0)
    assert (bronze.place, bronze.metal_in, bronze.melted, bronze.out, bronze.pour) == (0, 6, 17, 17, 18)
    assert (silver.quench, bronze.quench) == (15, 33)
    assert bronze.changes_crucible and not silver.changes_crucible


def test_a_flask_alone_is_quenched_when_its_alloy_says_at_once_if_need_be():
    (turn,) = compute_turns((Waiting(8, quench_minutes=0),), Bench())
    assert turn.quench == 0


def test_a_vacuum_of_three_minutes_holds_the_table_where_the_melt_would_be_sooner():
    """By hand: three minutes of vacuum and one to fetch the next flask, where pour, melt and flask take three."""
    assert [turn.pour for turn in compute_turns((Waiting(1), Waiting(1)), Bench())] == [0, 4]


@pytest.mark.parametrize(("wait", "quench"), [(11, 11), (12, 14)])
def test_a_quench_that_ends_as_the_next_flask_is_fetched_need_not_wait(wait, quench):
    """By hand: the second, 11 minutes of melt, is fetched at 12, poured at 13, and the hands are free at 14."""
    first, second = compute_turns((Waiting(20, quench_minutes=wait), Waiting(11)), Bench())
    assert (second.out, second.pour, first.quench) == (12, 13, quench)


def test_hands_are_full_before_the_metal_goes_in_only_where_the_crucible_is_changed():
    """By hand: with a vacuum of nine minutes the third metal goes in at 18, and a quench at 17 is done by then."""
    flasks = (Waiting(3, quench_minutes=17), Waiting(1, quench_minutes=60), Waiting(1, quench_minutes=60))
    first, _, third = compute_turns(flasks, Bench(table_minutes=9))
    assert (first.quench, third.metal_in, third.pour) == (17, 18, 20)


def test_of_flasks_alike_the_longest_melt_goes_first_and_then_the_quickest():
    """Nobody waits for the very first melt."""
    flasks = [Waiting(melt, "silver", 0, "cup", 675) for melt in (5, 2, 8, 3)]
    assert order_flasks(flasks, Bench()) == (2, 1, 3, 0)


def test_the_hottest_flask_of_a_crucible_goes_first():
    cooler = Waiting(2, "silver", 0, "cup", 500)
    assert order_flasks((cooler, SILVER), Bench()) == (1, 0)


def spans(turns, flasks, bench):
    """Each thing that is one at a time, and from when to when each flask has it."""
    for turn in turns:
        change = bench.change_minutes if turn.changes_crucible else 0
        table_to = turn.pour + min(bench.table_minutes, flasks[turn.place].quenched_after(bench))
        yield "melter", turn.metal_in, turn.pour
        yield "table", turn.out, table_to
        yield "hands", turn.metal_in - change, turn.metal_in + HAND_MINUTES
        yield "hands", turn.out, turn.pour + HAND_MINUTES
        yield "hands", turn.quench, turn.quench + HAND_MINUTES


@given(st.lists(FLASKS, min_size=2, max_size=7), BENCHES)
def test_nothing_is_in_two_places_and_every_order_is_possible(flasks, bench):
    turns = compute_turns(flasks, bench)
    assert sorted(turn.place for turn in turns) == list(range(len(flasks)))
    assert turns[0].pour == 0
    taken = sorted(spans(turns, flasks, bench))
    for before, after in pairwise(taken):
        assert before[0] != after[0] or before[2] <= after[1], (before, after)
    for turn in turns:
        assert turn.metal_in < turn.melted <= turn.out <= turn.pour
        assert turn.melted - turn.metal_in == flasks[turn.place].melt_minutes
        assert turn.quench >= turn.pour + flasks[turn.place].quenched_after(bench)


def keeps_the_rules(order, flasks):
    foul = [flasks[place].foulness for place in order]
    families = [family for family, _ in groupby(flasks[place].family for place in order)]
    cups = [cup for cup, _ in groupby((flasks[place].family, flasks[place].crucible) for place in order)]
    hot = [(flasks[place].family, flasks[place].crucible, flasks[place].flask_c or 0) for place in order]
    return (
        foul == sorted(foul)
        and len(set(families)) == len(families)
        and len(set(cups)) == len(cups)
        and all(one[:2] != other[:2] or one[2] >= other[2] for one, other in pairwise(hot))
    )


def wait_of(order, flasks, bench):
    """How long the flasks wait together, put one after another by the plain rules of the bench."""
    pour, total = 0, 0
    for before, after in pairwise(flasks[place] for place in order):
        change = (before.family, before.crucible) != (after.family, after.crucible)
        free = pour + HAND_MINUTES + (bench.change_minutes if change else 0)
        melted = free + after.melt_minutes + bench.out_minutes
        table = pour + min(bench.table_minutes, before.quenched_after(bench))
        pour = max(melted, table + bench.out_minutes)
        total += pour
    return total


@settings(max_examples=40)
@given(st.lists(FLASKS, min_size=1, max_size=5), BENCHES)
def test_the_flasks_wait_the_least_that_the_rules_allow(flasks, bench):
    allowed = [order for order in permutations(range(len(flasks))) if keeps_the_rules(order, flasks)]
    found = order_flasks(flasks, bench)
    assert found in allowed
    assert sum(turn.pour for turn in compute_turns(flasks, bench)) == wait_of(found, flasks, bench)
    assert wait_of(found, flasks, bench) == min(wait_of(order, flasks, bench) for order in allowed)


def test_many_crucibles_are_no_trouble():
    many = [Waiting(5 + place, "silver", 0, f"cup {place}") for place in range(20)]
    assert len(compute_turns(many, Bench())) == 20


@pytest.mark.parametrize(("minutes", "degrees"), [(0, 732), (60, 621)])
def test_a_flask_cools_as_newton_says(minutes, degrees):
    """From 732 to 621 C in 60 min in a room of 20 gives tau 354 min; computed, tau = 60/ln(712/601)."""
    assert compute_cooled_c(732, minutes, 20, 354) == degrees


def test_until_a_flask_was_measured_it_has_an_hour():
    """Our guess: in an hour all but 1/e of the way to a room of 20 C is gone, 20 + 712/e = 282; computed."""
    assert compute_cooled_c(732, 60) == 282
