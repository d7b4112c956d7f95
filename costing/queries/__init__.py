"""What costing reads of the stock and of its own rules, by subject.

The number of queries never depends on how many casts are asked for.
"""
