"""What costing reads of the stock and of its own rules, by subject.

The number of queries never depends on how many casts are asked for.
"""

from .costed import CastReading, CostedCast, cost_casts, cost_reading, read_casts
from .policy import all_policies, latest_metal_prices, make_rule, policy_input, policy_on, price_rules

__all__ = [
    "CastReading",
    "CostedCast",
    "all_policies",
    "cost_casts",
    "cost_reading",
    "latest_metal_prices",
    "make_rule",
    "policy_input",
    "policy_on",
    "price_rules",
    "read_casts",
]
