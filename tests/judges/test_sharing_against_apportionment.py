"""Sharing by largest remainder against the package `apportionment`, written for seats in parliaments."""

import random

import pytest
from apportionment.methods import TiesException, compute

from studio.kit.rounding import allocate_largest_remainder


def _judge(total, weights):
    """None where remainders tie: the package then says only that it will not choose."""
    try:
        return compute("largest_remainder", weights, total, fractions=True, tiesallowed=False)
    except TiesException:
        return None


def test_sixty_two_over_three_castings():
    """62.00 over 12.41, 11.98, 13.05 g: 20.55, 19.84, 21.61; computed."""
    assert _judge(6_200, [1_241, 1_198, 1_305]) == [2_055, 1_984, 2_161]
    assert allocate_largest_remainder(6_200, [1_241, 1_198, 1_305]) == [2_055, 1_984, 2_161]


@pytest.mark.parametrize("seed", range(40))
def test_any_total_over_any_weights(seed):
    dice = random.Random(seed)
    # Weights that add up to a large prime leave no two remainders alike, so the package always answers.
    weights = [dice.randint(1, 10_000) for _ in range(dice.randint(1, 11))]
    weights.append(1_000_003 - sum(weights))
    total = dice.randint(1, 5_000)
    judged = _judge(total, weights)
    assert judged is not None or len(set(weights)) < len(weights)
    if judged is not None:
        assert allocate_largest_remainder(total, weights) == judged


def test_equal_remainders_are_ours_to_settle():
    assert _judge(5, [1, 1]) is None
    assert allocate_largest_remainder(5, [1, 1]) == [3, 2]
