"""Sharing whole units so that the shares always add up to the whole."""

from collections.abc import Sequence


def allocate_largest_remainder(total: int, weights: Sequence[int]) -> list[int]:
    """Share `total` whole units in proportion to `weights` by the method of largest remainders.

    The shares add up to `total` exactly. Ties go to the earlier share; weights that are all zero share
    equally; a negative total is shared as its mirror. A zero weight beside others gets nothing.
    Each share is its exact quota rounded down or up, and no other way of sharing is as near to the quotas as a whole
    (M. L. Balinski and H. P. Young, Fair Representation; from memory).
    Raises ValueError for a negative weight, or when there is something to share and nobody to have it.
    """
    if not weights:
        if total:
            raise ValueError("nobody to share with")
        return []
    if min(weights) < 0:
        raise ValueError("a weight below zero cannot have a share")
    if not total:
        return [0] * len(weights)
    if total < 0:
        return [-share for share in allocate_largest_remainder(-total, weights)]
    whole = sum(weights)
    if whole == 0:
        return allocate_largest_remainder(total, [1] * len(weights))
    shares = [total * weight // whole for weight in weights]
    left = total - sum(shares)
    if left:
        by_remainder = sorted(range(len(weights)), key=lambda place: -(total * weights[place] % whole))
        for place in by_remainder[:left]:
            shares[place] += 1
    return shares
