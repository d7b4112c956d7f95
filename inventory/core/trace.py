"""Where the metal of a cast came from, through any number of remelts, and where the metal of a lot went.

What comes out of one crucible is of one make: pieces, buttons, spill and filings of a cast hold the metals of its
charge in the proportions in which they were weighed in, and so does all that is cast from them later. So it is with
lots that were put together in a tin, though nobody can tell there which grain is whose: each is in all that is taken
out by its share. Shares are whole parts of `WHOLE`, so that they add up to it exactly; each mix rounds by one part at
most.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from studio.kit.rounding import allocate_largest_remainder
from studio.kit.units import divide_half_up

WHOLE = 10**12


@dataclass(frozen=True, slots=True)
class Portion:
    """So many milligrams of a lot in a mix; `made_by` is the key of the mix that the lot came out of, if it did."""

    lot: int
    mass_mg: int
    made_by: int | None = None


def of_tin(lot: int) -> int:
    """The key of the mix that made a lot out of lots, where that of a melt is its cast's."""
    return -lot


Mixes = Mapping[int, Sequence[Portion]]
"""The portions of each mix, after every one whose metal is in it: melts by their casts, other mixes by `of_tin`."""


P = TypeVar("P")


def gather_mixes(portions: Iterable[tuple[int, P]]) -> dict[int, list[P]]:
    """The portions of each mix, from (mix, portion) in the order of the book, and the mixes in that of their last ones:
    what goes into one was weighed out of another before. Taken out and put in again, it stands where it was last."""
    mixes: dict[int, list[P]] = {}
    for mix, portion in portions:
        portions_of = mixes.pop(mix, [])
        portions_of.append(portion)
        mixes[mix] = portions_of
    return mixes


def trace_back(mix: int, mixes: Mixes) -> tuple[dict[int, int], int]:
    """The lots that the metal of a mix first came in as, with their shares of WHOLE; and how many melts it went through
    at most.

    A lot of which nobody knows what it was made from stands for itself.
    """
    parts, depth = {mix: WHOLE}, {mix: int(mix > 0)}
    found: dict[int, int] = {}
    order = list(mixes)
    for one in reversed(order[: order.index(mix) + 1] if mix in mixes else []):
        if one not in parts:
            continue
        portions = mixes[one]
        shares = allocate_largest_remainder(parts[one], [portion.mass_mg for portion in portions])
        for portion, share in zip(portions, shares, strict=True):
            before = portion.made_by
            if before in mixes and before is not None:
                parts[before] = parts.get(before, 0) + share
                depth[before] = max(depth.get(before, 0), depth[one] + int(before > 0))
            elif share:
                found[portion.lot] = found.get(portion.lot, 0) + share
    return found, max(depth.values())


def trace_on(lot: int, mixes: Mixes) -> dict[int, int]:
    """Every mix that holds metal of a lot, with its share of WHOLE, rounded down at each mix on the way."""
    shares: dict[int, int] = {}
    for mix, portions in mixes.items():
        parts = 0
        for portion in portions:
            share = WHOLE if portion.lot == lot else shares.get(portion.made_by or 0, 0)
            parts += portion.mass_mg * share
        if parts:
            shares[mix] = parts // sum(portion.mass_mg for portion in portions)
    return shares


def round_became(parts: Mapping[str, int], total_mg: int) -> dict[str, int]:
    """Whole milligrams of a lot that became this and that, from parts of WHOLE of a milligram; together `total_mg`.

    A part below zero, of which more was found than had been lost, is rounded by itself, and what is left shared over
    the others by largest remainders.
    """
    below = {key: -divide_half_up(-part, WHOLE) for key, part in parts.items() if part < 0}
    above = {key: part for key, part in parts.items() if part >= 0}
    shares = allocate_largest_remainder(total_mg - sum(below.values()), list(above.values()))
    return below | dict(zip(above, shares, strict=True))
