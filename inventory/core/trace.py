"""Where the metal of a cast came from, through any number of remelts, and where the metal of a lot went.

What comes out of one crucible is of one make: pieces, buttons, spill and filings of a cast hold the metals of its
charge in the proportions in which they were weighed in, and so does all that is cast from them later. Shares are
whole parts of `WHOLE`, so that they add up to it exactly; each remelt rounds by one part at most.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from studio.kit.rounding import allocate_largest_remainder

WHOLE = 10**12


@dataclass(frozen=True, slots=True)
class Portion:
    """So many milligrams of a lot in a charge; `made_by` is the cast that the lot was recovered from."""

    lot: int
    mass_mg: int
    made_by: int | None = None


Charges = Mapping[int, Sequence[Portion]]
"""The portions of each cast by its key, a cast after every one whose metal it melted again."""


def trace_back(cast: int, charges: Charges) -> tuple[dict[int, int], int]:
    """The lots that a cast's metal first came in as, with their shares of WHOLE; and through how many melts at most.

    A lot of which nobody knows what it was charged from stands for itself.
    """
    parts, depth = {cast: WHOLE}, {cast: 1}
    found: dict[int, int] = {}
    order = list(charges)
    for one in reversed(order[: order.index(cast) + 1] if cast in charges else []):
        if one not in parts:
            continue
        portions = charges[one]
        shares = allocate_largest_remainder(parts[one], [portion.mass_mg for portion in portions])
        for portion, share in zip(portions, shares, strict=True):
            before = portion.made_by
            if before in charges and before is not None:
                parts[before] = parts.get(before, 0) + share
                depth[before] = max(depth.get(before, 0), depth[one] + 1)
            elif share:
                found[portion.lot] = found.get(portion.lot, 0) + share
    return found, max(depth.values())


def trace_on(lot: int, charges: Charges) -> dict[int, int]:
    """Every cast that holds metal of a lot, with its share of WHOLE, rounded down."""
    shares: dict[int, int] = {}
    for cast, portions in charges.items():
        parts = 0
        for portion in portions:
            share = WHOLE if portion.lot == lot else shares.get(portion.made_by or 0, 0)
            parts += portion.mass_mg * share
        if parts:
            shares[cast] = parts // sum(portion.mass_mg for portion in portions)
    return shares
