"""Prices brought to one unit of mass, and rules in words."""

import pytest

from costing.core.price import (
    compute_price_per_g,
    compute_price_per_kg,
    print_rule_value,
    word_price_per_kg,
)


@pytest.mark.parametrize(
    ("unit", "per_g", "per_kg"),
    [
        ("g", 1_000_000, 1_000_000_000),
        ("kg", 1_000, 1_000_000),
        # One for a troy ounce of 31.1034768 g is 0.032151 a gram; computed.
        ("ozt", 32_151, 32_150_747),
    ],
)
def test_a_price_for_any_unit_is_brought_to_one(unit, per_g, per_kg):
    assert compute_price_per_g(1_000_000, unit) == per_g
    assert compute_price_per_kg(1_000_000, unit) == per_kg


def test_a_price_is_typed_for_a_gram_where_that_is_exact():
    assert word_price_per_kg(1_000) == (1, "g")
    assert word_price_per_kg(1_001) == (1_001, "kg")
    assert word_price_per_kg(25_000_000) == (25_000, "g")


def test_a_rule_says_what_its_number_is():
    assert print_rule_value(6_000, "margin") == "60\u00a0%"
    assert print_rule_value(250, "cost") == "2.5\u00a0times"
    assert print_rule_value(255, "cost") == "2.55\u00a0times"
