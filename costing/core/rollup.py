"""What a cast cost and what each of its pieces carries of it, and the one table that this is printed from.

The pieces' costs and what was set aside add up to the cost of the cast, to the last millionth, always.
Changing a policy changes what is charged here and never the stock.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from costing.core import inputs
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
from studio.kit.rounding import Cell, allocate_largest_remainder, round_to_add_up


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
        set_aside=tuple(
            SetAside(key, label, sum(line.aside_micro(key) for line in lines))
            for key, label in ASIDE_LABELS.items()
            if any(aside.key == key for line in lines for aside in line.set_aside)
        ),
        normal_lost_mg=normal_mg,
        abnormal_lost_mg=abnormal_mg,
        piece_lost_mg=_share_normal_mg(cast, weights[bases[LOST_METAL]][0], normal_mg),
    )


def _share_normal_mg(cast: CastInput, weights: Sequence[int], normal_mg: int) -> tuple[int, ...]:
    shares = [0] * len(cast.pieces)
    if cast.good_places:
        allocated = allocate_largest_remainder(normal_mg, weights)
        for place, share in zip(cast.good_places, allocated, strict=True):
            shares[place] = share
    return tuple(shares)


GROUPS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "Metal": (inputs.OWN_METAL,),
        "Loss": (inputs.LOST_METAL, inputs.WRITE_DOWN),
        "Mould": (inputs.POWDER, inputs.PATTERN),
        "Kiln and wear": (inputs.ENERGY, inputs.WEAR),
        "Stock": (inputs.CONSUMABLES, inputs.OTHER_STOCK, inputs.OUTSIDE),
        "Time": (inputs.BENCH_CAST, inputs.BENCH_PIECE, inputs.OVERHEAD),
    }
)
"""The columns of the table of pieces, each with the lines that it adds up."""

_GROUP_OF = {key: group for group, keys in GROUPS.items() for key in keys}
_PIECES, _ASIDE = "pieces", "aside"


@dataclass(frozen=True, slots=True)
class PrintedLine:
    """One line of the cost as printed."""

    key: str
    label: str
    piece_micro: tuple[int, ...]
    aside_micro: tuple[int, ...]

    @property
    def set_aside_micro(self) -> int:
        return sum(self.aside_micro)

    @property
    def total_micro(self) -> int:
        return sum(self.piece_micro) + self.set_aside_micro


@dataclass(frozen=True, slots=True)
class PrintedCost:
    """A cast's cost as printed: every sum that is shown is the sum of what is shown, and beside its exact value.

    What was set aside stands by its reasons, in the order of the cost's own `set_aside`. `groups` holds, for each of
    GROUPS that comes to something, what each piece carries of it and then what was set aside, by reason.
    """

    lines: tuple[PrintedLine, ...]
    piece_totals_micro: tuple[int, ...]
    aside_totals_micro: tuple[int, ...]
    groups: Mapping[str, tuple[int, ...]]

    @property
    def carried_micro(self) -> int:
        return sum(self.piece_totals_micro)

    @property
    def set_aside_micro(self) -> int:
        return sum(self.aside_totals_micro)

    @property
    def total_micro(self) -> int:
        return self.carried_micro + self.set_aside_micro

    def line(self, key: str) -> PrintedLine:
        """The line of this key. Raises StopIteration where the cost has none."""
        return next(line for line in self.lines if line.key == key)

    def group_total_micro(self, group: str) -> int:
        return sum(self.groups.get(group, ()))


def compute_printed(cost: CastCost, unit_micro: int) -> PrintedCost:
    """Round the whole table to a unit (a penny is 10,000).

    Each cell, each line with its parts on pieces and set aside, each group, each piece with its parts by group, all
    that pieces carry, and all that was set aside is one of the two multiples beside its exact value. The metal lost
    is the multiple nearest to what the stock says it cost, because reports of the stock tell it, too.
    """
    count = len(cost.piece_totals_micro)
    reasons = [aside.key for aside in cost.set_aside]
    exact = [[*line.piece_micro, *(line.aside_micro(reason) for reason in reasons)] for line in cost.lines]
    cells = [
        _place_cell(line.key, column, amount, count)
        for line, amounts in zip(cost.lines, exact, strict=True)
        for column, amount in enumerate(amounts)
    ]
    nearest = (_GROUP_OF[inputs.LOST_METAL], inputs.LOST_METAL)
    rounded = iter(round_to_add_up(cells, unit_micro, nearest))
    rows = [tuple(next(rounded) for _ in amounts) for amounts in exact]
    totals = _add_rows(rows)
    keyed = dict(zip((line.key for line in cost.lines), rows, strict=True))
    groups = {
        group: _add_rows([keyed[key] for key in keys if key in keyed]) for group, keys in GROUPS.items()
    }
    return PrintedCost(
        lines=tuple(
            PrintedLine(line.key, line.label, row[:count], row[count:])
            for line, row in zip(cost.lines, rows, strict=True)
        ),
        piece_totals_micro=totals[:count],
        aside_totals_micro=totals[count:],
        groups=MappingProxyType({group: sums for group, sums in groups.items() if any(sums)}),
    )


def _place_cell(key: str, column: int, amount: int, pieces: int) -> Cell:
    """A cell with every sum that is shown of it."""
    group, side = _GROUP_OF[key], _PIECES if column < pieces else _ASIDE
    return Cell(amount, (group, key, side), (side, column, group))


def _add_rows(rows: list[tuple[int, ...]]) -> tuple[int, ...]:
    return tuple(map(sum, zip(*rows, strict=True)))
