"""What costing reads of the stock and of its own rules, by subject.

The number of queries never depends on how many casts are asked for.
"""

from .costed import CostedCast, CostSheet, cost_casts
from .policy import all_policies, latest_metal_prices, make_rule, policy_input, policy_on, price_rules

__all__ = [
    "CostSheet",
    "CostedCast",
    "all_policies",
    "cost_casts",
    "latest_metal_prices",
    "make_rule",
    "policy_input",
    "policy_on",
    "price_rules",
]
