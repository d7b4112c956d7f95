"""At which price of metal a price that is asked falls under its floor: found on the last decimal that is shown."""

from collections.abc import Callable

HIGHEST_MICRO = 10**12
"""A million of the currency: a metal that costs more than that for a gram or an ounce is not looked at."""


def find_highest_metal(holds_at: Callable[[int], bool], step_micro: int = 100) -> int | None:
    """The highest price of metal, in whole steps, at which `holds_at` is still true, as it must be below it.

    Exact on its grid: one step more and it is false. None where it is true however high, -1 where it is false at 0.
    """
    if not holds_at(0):
        return -1
    highest = HIGHEST_MICRO // step_micro
    if holds_at(highest * step_micro):
        return None
    low, high = 0, highest
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if holds_at(middle * step_micro) else (low, middle)
    return low * step_micro
