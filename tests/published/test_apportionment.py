"""Sharing and rounding against figures from outside.

Sources, as named beside each check; "read" was seen in the source, "memory" was recalled from it, "computed" was
worked out from published inputs.
"""

from decimal import Decimal

import pytest

from studio.kit.printing import print_decimal
from studio.kit.rounding import allocate_largest_remainder
from studio.kit.units import divide_half_up, round_half_up


def test_five_units_split_30_to_70():
    """Fowler, Patterns of Enterprise Application Architecture, 2002 (read)."""
    assert allocate_largest_remainder(5, [30, 70]) == [2, 3]


def test_62_00_over_three_weighed_pieces():
    """Computed; the package `apportionment` 1.0, method largest_remainder, gives the same."""
    assert allocate_largest_remainder(6200, [1241, 1198, 1305]) == [2055, 1984, 2161]


@pytest.mark.parametrize(("seats", "shares"), [(25, [7, 7, 4, 3, 3, 1]), (26, [8, 8, 5, 2, 2, 1])])
def test_one_unit_more_may_lower_a_share(seats, shares):
    """The Alabama paradox (from memory, recomputed): so nothing here may assume that shares only grow."""
    assert allocate_largest_remainder(seats, [1500, 1500, 900, 500, 500, 200]) == shares


def test_joint_cost_by_weight():
    """OpenStax, Principles of Accounting vol. 2, ch. 10 (computed)."""
    assert allocate_largest_remainder(36_000, [25, 75]) == [9_000, 27_000]


def test_vat_half_a_penny():
    """HMRC VATREC12030 (read): below 0.5 down, 0.5 and more up."""
    assert [divide_half_up(tenths, 10) for tenths in (14, 15, 24, 25)] == [1, 2, 2, 3]


def test_rounding_half_up_to_one_place():
    """ISO 80000-1 Annex B (from memory): 12.25 and 12.35 half up are 12.3 and 12.4."""
    assert [print_decimal(value, 2, most=1) for value in (1225, 1235)] == ["12.3", "12.4"]


def test_never_round_twice():
    """ISO 80000-1 Annex B (from memory): 12.254 to one place is 12.3, but 12.249 is 12.2, never 12.25 then 12.3."""
    assert round_half_up(Decimal("122.49")) == 122
    assert print_decimal(12_249, 3, most=1) == "12.2"
