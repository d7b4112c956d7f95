"""Sharing whole units so that the shares always add up to the whole."""

from collections.abc import Sequence
from dataclasses import dataclass

from studio.kit.units import divide_half_up


def allocate_largest_remainder(total: int, weights: Sequence[int]) -> list[int]:
    """Share `total` whole units in proportion to `weights` by the method of largest remainders.

    The shares add up to `total` exactly. Ties go to the earlier share; weights that are all zero share
    equally; a negative total is shared as its mirror. A zero weight beside others gets nothing.
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


@dataclass(frozen=True, slots=True)
class RoundedTable:
    """A table whose printed cells add up along rows, along columns and to the total.

    All numbers are in the measure of the exact cells and are multiples of the printed unit.
    """

    cells: tuple[tuple[int, ...], ...]
    row_totals: tuple[int, ...]
    column_totals: tuple[int, ...]
    total: int


def round_to_add_up(matrix: Sequence[Sequence[int]], unit: int) -> RoundedTable:
    """Round exact cells to multiples of `unit` so that every sum shown is the sum of what is shown.

    The grand total is the exact total rounded half up; every column total and every cell is one of the two
    multiples beside its exact value, so a cell that is exactly zero stays zero. Cells may be negative.
    Raises ValueError for a unit below 1 or for rows of different lengths.
    """
    if unit < 1:
        raise ValueError("the printed unit is at least 1")
    rows = [list(row) for row in matrix]
    width = len(rows[0]) if rows else 0
    if any(len(row) != width for row in rows):
        raise ValueError("every row needs the same columns")
    columns = [[row[place] for row in rows] for place in range(width)]
    exact_totals = [sum(column) for column in columns]
    total = divide_half_up(sum(exact_totals), unit)
    column_totals = _round_beside(exact_totals, unit, total, [0] * width)
    gained = [0] * len(rows)
    rounded_columns: list[list[int]] = []
    for column, column_total in zip(columns, column_totals, strict=True):
        rounded = _round_beside(column, unit, column_total, gained)
        gained = [had + now * unit - exact for had, now, exact in zip(gained, rounded, column, strict=True)]
        rounded_columns.append([units * unit for units in rounded])
    cells = tuple(tuple(column[place] for column in rounded_columns) for place in range(len(rows)))
    return RoundedTable(
        cells=cells,
        row_totals=tuple(sum(row) for row in cells),
        column_totals=tuple(units * unit for units in column_totals),
        total=total * unit,
    )


def _round_beside(exact: Sequence[int], unit: int, target: int, gained: Sequence[int]) -> list[int]:
    """Whole units beside each exact value that add up to `target` units.

    `target` is less than one unit from the exact sum, so only values with a remainder ever move up.
    """
    units = [value // unit for value in exact]
    # Alike remainders go to whoever gained least so far, or the first of ten equal pieces would pay every penny.
    order = sorted(range(len(exact)), key=lambda place: (-(exact[place] % unit), gained[place]))
    for place in order[: target - sum(units)]:
        units[place] += 1
    return units
