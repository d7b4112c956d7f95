"""What a cast cost and what each of its pieces carries of it.

The pieces' costs and what was set aside add up to the cost of the cast, to the last millionth, always.
Changing a policy changes what is charged here and never the stock.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from costing.core.inputs import (
    DEFAULT_BASES,
    LOST_METAL,
    CastInput,
    PolicyInput,
    check_cast_adds_up,
)
from costing.core.lines import compute_normal_loss, list_costs
from costing.core.sharing import (
    ASIDE_LABELS,
    CostLine,
    SetAside,
    allocate_cost,
    choose_weights,
)
from studio.kit.rounding import allocate_largest_remainder


@dataclass(frozen=True, slots=True)
class CastCost:
    """The cost of a cast by line and by piece, in the order of the cast's pieces.

    `piece_lost_mg` is each piece's share of the normal loss, for valuing its metal at another price.
    """

    total_micro: int
    lines: tuple[CostLine, ...]
    piece_totals_micro: tuple[int, ...]
    set_aside: tuple[SetAside, ...]
    normal_lost_mg: int
    abnormal_lost_mg: int
    piece_lost_mg: tuple[int, ...]

    @property
    def set_aside_micro(self) -> int:
        return sum(aside.amount_micro for aside in self.set_aside)

    def line(self, key: str) -> CostLine | None:
        return next((line for line in self.lines if line.key == key), None)


def compute_cast_cost(cast: CastInput, policy: PolicyInput) -> CastCost:
    """Roll up one closed cast under one policy.

    Raises ValueError when the metal does not add up: see check_cast_adds_up.
    """
    problems = check_cast_adds_up(cast)
    if problems:
        raise ValueError(problems[0])
    normal_mg, abnormal_mg = compute_normal_loss(cast.charge_mg, cast.lost_mg, policy.normal_loss_pct100)
    good = [cast.pieces[place] for place in cast.good_places]
    bases = {key: policy.basis_of(key) for key in DEFAULT_BASES}
    weights = {basis: choose_weights(basis, good) for basis in set(bases.values())}
    lines = tuple(
        allocate_cost(
            cost,
            cast,
            weights[bases[cost.key]] if cost.key in bases else None,
            policy.basis_origin_of(cost.key),
        )
        for cost in list_costs(cast, policy)
    )
    return CastCost(
        total_micro=sum(line.total_micro for line in lines),
        lines=lines,
        piece_totals_micro=tuple(map(sum, zip(*(line.piece_micro for line in lines), strict=True))),
        set_aside=_gather_set_aside(lines),
        normal_lost_mg=normal_mg,
        abnormal_lost_mg=abnormal_mg,
        piece_lost_mg=_share_normal_mg(cast, weights[bases[LOST_METAL]][0], normal_mg),
    )


def _gather_set_aside(lines: tuple[CostLine, ...]) -> tuple[SetAside, ...]:
    present = {aside.key for line in lines for aside in line.set_aside}
    return tuple(
        SetAside(key, label, sum(line.aside_micro(key) for line in lines))
        for key, label in ASIDE_LABELS.items()
        if key in present
    )


def _share_normal_mg(cast: CastInput, weights: Sequence[int], normal_mg: int) -> tuple[int, ...]:
    shares = [0] * len(cast.pieces)
    if cast.good_places:
        allocated = allocate_largest_remainder(normal_mg, weights)
        for place, share in zip(cast.good_places, allocated, strict=True):
            shares[place] = share
    return tuple(shares)
