"""A cast's cost as it is printed: one table, rounded once, that every page, paper and file reads.

Money is in millionths of the currency, here always in multiples of the printed unit.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from costing.core import inputs
from costing.core.rollup import CastCost
from studio.kit.rounding import Cell, round_to_add_up

GROUPS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "Metal": (inputs.OWN_METAL,),
        "Loss": (inputs.LOST_METAL, inputs.WRITE_DOWN),
        "Mould": (inputs.POWDER, inputs.PATTERN),
        "Kiln and wear": (inputs.ENERGY, inputs.WEAR),
        "Stock": (inputs.CONSUMABLES, inputs.OTHER_STOCK),
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
