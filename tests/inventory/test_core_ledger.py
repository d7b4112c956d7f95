"""What leaves a holder, and the seal that is kept with each movement."""

from datetime import date

import pytest

from inventory.core.ledger import (
    Amount,
    draw,
    first_unsound_day,
    least_quantity,
    rate_of,
    seal_of,
    share_out,
    total_of,
)

MONDAY, TUESDAY, FRIDAY = date(2026, 3, 2), date(2026, 3, 3), date(2026, 3, 6)
HELD = Amount(3_000, 2_775_000, 4_000_001)


def test_a_draw_takes_its_share_rounded_once_and_the_last_takes_the_rest():
    assert draw(HELD, 1_000) == Amount(1_000, 925_000, 1_333_334)
    assert draw(HELD, 0) == Amount()
    assert draw(HELD, 3_000) is HELD


@pytest.mark.parametrize("quantity", [-1, 3_001])
def test_no_more_is_drawn_than_is_held_and_no_less_than_nothing(quantity):
    with pytest.raises(ValueError, match="cannot draw"):
        draw(HELD, quantity)


def test_parts_share_all_that_is_held_and_must_make_it():
    assert share_out(HELD, [1_000, 1_000, 1_000]) == [
        Amount(1_000, 925_000, 1_333_334),
        Amount(1_000, 925_000, 1_333_334),
        Amount(1_000, 925_000, 1_333_333),
    ]
    with pytest.raises(ValueError, match="do not make"):
        share_out(HELD, [1_000, 1_999])


def test_more_of_what_is_held_comes_at_its_rate():
    assert rate_of(HELD, 6) == Amount(6, 5_550, 8_000)
    assert rate_of(Amount(1), 5) == Amount(5)
    with pytest.raises(ValueError, match="nothing is held"):
        rate_of(Amount(), 1)


def test_amounts_add_up_and_cancel():
    assert total_of([HELD, Amount(1, 2, 3)]) == Amount(3_001, 2_775_002, 4_000_004)
    assert total_of([]).is_nothing
    assert HELD + Amount(1, 2, 3) - HELD == Amount(1, 2, 3)


@pytest.mark.parametrize("amount", [Amount(1), Amount(0, 1), Amount(0, 0, 1)])
def test_anything_at_all_is_something(amount):
    assert not amount.is_nothing


@pytest.mark.parametrize(
    ("amount", "is_sound"),
    [
        (Amount(), True),
        (Amount(1), True),
        (Amount(1, 5, 7), True),
        (Amount(0, 1), False),
        (Amount(0, 0, 1), False),
        (Amount(-1), False),
        (Amount(1, -1), False),
        (Amount(1, 0, -1), False),
    ],
)
def test_nothing_is_below_zero_and_nothing_of_value_is_left_where_nothing_is(amount, is_sound):
    assert amount.is_sound is is_sound


def test_days_are_judged_in_turn_and_each_at_its_end():
    later = [(FRIDAY, Amount(-3)), (MONDAY, Amount(-2)), (MONDAY, Amount(4))]
    assert first_unsound_day(later) == (FRIDAY, Amount(-1))
    assert first_unsound_day([*later, (TUESDAY, Amount(1))]) is None


def test_the_least_quantity_counts_all_that_was_there_before():
    changes = [(MONDAY, Amount(5)), (TUESDAY, Amount(-2)), (FRIDAY, Amount(4))]
    assert least_quantity(changes, since=TUESDAY) == 3
    assert least_quantity(changes, since=FRIDAY) == 7
    assert least_quantity(changes, since=date(2026, 3, 1)) == 0
    assert least_quantity([], since=MONDAY) == 0


def test_a_seal_is_sixteen_signs_and_never_changes():
    """What was sealed once is asked about for good: another seal would accuse every row that was ever written."""
    seal = seal_of(7, 1, 2, 3, MONDAY, Amount(10_000, 9_250_000, -13), "back")
    assert len(seal) == 16
    assert seal == "01bbc6ce0c4c3b26"


@pytest.mark.parametrize(
    "changed",
    [
        (8, 1, 2, 3, MONDAY, Amount(4, 5, 6), "back"),
        (7, 2, 2, 3, MONDAY, Amount(4, 5, 6), "back"),
        (7, 1, 1, 3, MONDAY, Amount(4, 5, 6), "back"),
        (7, 1, 2, 4, MONDAY, Amount(4, 5, 6), "back"),
        (7, 1, 2, 3, TUESDAY, Amount(4, 5, 6), "back"),
        (7, 1, 2, 3, MONDAY, Amount(5, 5, 6), "back"),
        (7, 1, 2, 3, MONDAY, Amount(4, 6, 6), "back"),
        (7, 1, 2, 3, MONDAY, Amount(4, 5, 7), "back"),
        (7, 1, 2, 3, MONDAY, Amount(4, 5, 6), "loss"),
    ],
)
def test_a_seal_knows_every_value_of_its_row(changed):
    assert seal_of(*changed) != seal_of(7, 1, 2, 3, MONDAY, Amount(4, 5, 6), "back")
