"""Tax on the lines of a bill: rounded line by line, or once for each rate and then shared over its lines.

Money is millionths of the currency, rates hundredths of a per cent. Half a unit goes up (HMRC VATREC12030, read).
"""

from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction

from studio.kit.rounding import allocate_largest_remainder
from studio.kit.units import PCT100_WHOLE, round_half_up


def compute_bill_taxes(
    lines: Sequence[tuple[int, int]], by_line: bool, unit_micro: int = 10_000
) -> tuple[int, ...]:
    """The tax of each line, given (millionths before tax, rate); their sum is the tax of the bill.

    Not by line, the tax of all lines of a rate is rounded once, and they share it by what they come to. Raises
    ValueError for a line below zero.
    """
    if any(amount < 0 or rate < 0 for amount, rate in lines):
        raise ValueError("a line of a bill is not below zero")
    if by_line:
        return tuple(_tax(amount, rate, unit_micro) for amount, rate in lines)
    by_rate: dict[int, list[int]] = defaultdict(list)
    for place, (_, rate) in enumerate(lines):
        by_rate[rate].append(place)
    taxes = [0] * len(lines)
    for rate, places in by_rate.items():
        amounts = [lines[place][0] for place in places]
        units = _tax(sum(amounts), rate, unit_micro) // unit_micro
        shares = allocate_largest_remainder(units, amounts) if any(amounts) else [0] * len(amounts)
        for place, share in zip(places, shares, strict=True):
            taxes[place] = share * unit_micro
    return tuple(taxes)


def _tax(amount_micro: int, rate_pct100: int, unit_micro: int) -> int:
    return round_half_up(Fraction(amount_micro * rate_pct100, PCT100_WHOLE * unit_micro)) * unit_micro
