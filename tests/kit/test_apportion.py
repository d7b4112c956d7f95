import pytest

from studio.kit.rounding import allocate_largest_remainder


def test_shares_follow_the_weights_and_add_up():
    assert allocate_largest_remainder(100, [1, 1, 1]) == [34, 33, 33]


def test_ties_go_to_the_earlier():
    assert allocate_largest_remainder(1, [5, 5]) == [1, 0]


def test_weights_of_nothing_share_equally():
    assert allocate_largest_remainder(7, [0, 0, 0]) == [3, 2, 2]


def test_a_zero_weight_beside_others_gets_nothing():
    assert allocate_largest_remainder(11, [0, 3, 0, 4]) == [0, 5, 0, 6]


def test_a_negative_total_is_the_mirror():
    assert allocate_largest_remainder(-100, [1, 1, 1]) == [-34, -33, -33]


def test_nothing_to_share_is_nothing_each():
    assert allocate_largest_remainder(0, [3, 4]) == [0, 0]
    assert allocate_largest_remainder(0, []) == []


def test_a_negative_weight_is_refused():
    with pytest.raises(ValueError, match="below zero"):
        allocate_largest_remainder(5, [1, -1])


def test_sharing_with_nobody_is_refused():
    with pytest.raises(ValueError, match="nobody"):
        allocate_largest_remainder(5, [])
