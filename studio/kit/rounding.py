"""Sharing whole units so that the shares add up, and rounding a table so that whatever is shown of it adds up.

There nothing that is shown is a whole unit from what it is.

Controlled rounding: each cell, and each sum that is shown, becomes one of the two multiples of the printed unit
beside its exact value. Where the sums nest in two ways, as in a table's rows and columns, such a rounding always
exists: B. D. Causey, L. H. Cox and L. R. Ernst, "Applications of transportation theory to statistical problems",
Journal of the American Statistical Association 80 (1985), 903-909; L. H. Cox, "A constructive procedure for unbiased
controlled rounding", the same 82 (1987), 520-524, shifts along closed paths of cells as is done here. (Both from
memory; that the sums come out so is held by tests.)
"""

from collections import defaultdict, deque
from collections.abc import Sequence
from dataclasses import dataclass

from studio.kit.units import divide_half_up


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


Path = tuple[str | int, ...]
"""The sums that a cell is part of, the widest first; a name counts only within the sum before it."""


@dataclass(frozen=True, slots=True)
class Cell:
    """An exact amount, and the sums that it is part of in each of the two ways in which the table is added up."""

    amount: int
    row: Path = ()
    column: Path = ()


def round_to_unit(amount: int, unit: int) -> int:
    """The multiple of `unit` nearest to `amount`, a half going away from zero, as everything is printed."""
    return divide_half_up(amount, unit) * unit


def round_to_total(exact: Sequence[int], unit: int, total: int) -> list[int]:
    """Each amount as one of the multiples of `unit` beside it, so that they add up to `total`, a multiple itself.

    `total` is at most a unit or so from their sum; what is nearest to the next multiple goes there first.
    """
    below = [one // unit for one in exact]
    missing = total // unit - sum(below)
    nearest = sorted(range(len(exact)), key=lambda place: -(exact[place] % unit))
    for nth in range(abs(missing) if exact else 0):
        # Too little is made up by those that were cut most, too much taken from those that were cut least.
        place = nearest[nth % len(nearest)] if missing > 0 else nearest[-1 - nth % len(nearest)]
        below[place] += 1 if missing > 0 else -1
    return [units * unit for units in below]


def round_column(exact: Sequence[int], unit: int) -> list[int]:
    """One column printed so that it adds up to its own sum as that is printed.

    What is a multiple of `unit` stays as it is; of the others those go up that are nearest to it.
    """
    return round_to_total(exact, unit, round_to_unit(sum(exact), unit))


def round_to_add_up(cells: Sequence[Cell], unit: int, nearest: Path = ()) -> list[int]:
    """Each cell as one of the two multiples of `unit` beside it, so that this holds for every sum as well.

    The row `nearest` comes to the multiple nearest to it, for it is known outside the table, too, and so does the
    whole, unless both stand exactly between two multiples and no table allows it. What is whole stays as it is.
    The same cells always give the same result. Raises ValueError for a unit below 1.
    """
    if unit < 1:
        raise ValueError("the printed unit is at least 1")
    arcs = _Arcs(unit, cells)
    # The exact table is a mean of rounded ones. Those with this row at its nearest weigh half or more of them, and so
    # do those with the whole at its nearest: unless both stand at exactly half, some are both.
    if nearest:
        arcs.pin(("row", *nearest))
    arcs.pin(_WHOLE)
    arcs.settle()
    return [cell.amount + arcs.shift_of(place) for place, cell in enumerate(cells)]


_WHOLE: Path = ("whole",)
_Way = list[tuple[int, int]]
"""Arcs one after another; each with +1 along it and -1 against it."""


class _Arcs:
    """Cells and sums as arcs of a network: what enters a sum leaves it, so a shift must run round a closed path.

    `level` is how far each arc stands above the multiple below it. Whole arcs never move and are left out.
    """

    def __init__(self, unit: int, cells: Sequence[Cell]) -> None:
        self.unit = unit
        self.ends: list[tuple[int, int]] = []
        self.level: list[int] = []
        self.exact: list[int] = []
        self.nodes: dict[Path, int] = {}
        self.at: list[list[int]] = []
        self.place_of: dict[Path, int] = {}
        self.fixed: set[int] = set()
        sums: dict[Path, int] = defaultdict(int)
        ways = [(("row", *cell.row), ("column", *cell.column)) for cell in cells]
        for cell, paths in zip(cells, ways, strict=True):
            for path in paths:
                for length in range(2, len(path) + 1):
                    sums[path[:length]] += cell.amount
        # The whole first and the cells last, for walks take what came last: so they go round a few cells.
        self._add(_WHOLE, ("column",), ("row",), sum(cell.amount for cell in cells))
        for path, amount in sums.items():
            wider = path[:-1]
            self._add(path, *((wider, path) if path[0] == "row" else (path, wider)), amount)
        for place, (cell, paths) in enumerate(zip(cells, ways, strict=True)):
            self._add(("cell", place), *paths, cell.amount)

    def _add(self, name: Path, tail: Path, head: Path, amount: int) -> None:
        if not amount % self.unit:
            return
        arc = self.place_of[name] = len(self.ends)
        self.ends.append((self._node(tail), self._node(head)))
        for node in self.ends[arc]:
            self.at[node].append(arc)
        self.level.append(amount % self.unit)
        self.exact.append(amount)

    def _node(self, path: Path) -> int:
        if path not in self.nodes:
            self.nodes[path] = len(self.at)
            self.at.append([])
        return self.nodes[path]

    def shift_of(self, cell: int) -> int:
        arc = self.place_of.get(("cell", cell))
        return 0 if arc is None else self.level[arc] - self.exact[arc] % self.unit

    def pin(self, name: Path) -> None:
        """Bring an arc to the multiple nearest to its exact value, if those that are fixed already allow it."""
        arc = self.place_of.get(name)
        if arc is None:
            return
        self.fixed.add(arc)
        goes_up = round_to_unit(self.exact[arc], self.unit) > self.exact[arc]
        goal, sign = (self.unit, 1) if goes_up else (0, -1)
        start, end = self.ends[arc][::-sign]
        while self.level[arc] != goal and (way := self._find_way(start, end)):
            self._push([*way, (arc, sign)])

    def _find_way(self, start: int, end: int) -> _Way:
        """The shortest way along arcs that can still move; empty when there is none."""
        ways: dict[int, _Way] = {start: []}
        queue = deque([start])
        while queue and end not in ways:
            node = queue.popleft()
            for arc in self.at[node]:
                sign, other = self._leave(arc, node)
                if other not in ways and arc not in self.fixed and self._room(arc, sign):
                    ways[other] = [*ways[node], (arc, sign)]
                    queue.append(other)
        return ways.get(end, [])

    def settle(self) -> None:
        """Shift round closed paths of broken arcs until none is broken.

        What enters a sum leaves it, so no sum has a single broken arc: a walk along them always comes round. Each
        shift makes an arc whole for good, so there are no more shifts than arcs (Cox 1987, named above).
        """
        for start in range(len(self.ends)):
            node = self.ends[start][0]
            walked: _Way = []
            been: list[int] = []
            while walked or self._is_broken(start):
                if node not in been:
                    arc = self._next_broken(node, walked[-1][0] if walked else None)
                    been.append(node)
                    sign, node = self._leave(arc, node)
                    walked.append((arc, sign))
                else:
                    first = been.index(node)
                    self._shift_round(walked[first:])
                    del walked[first:], been[first:]

    def _next_broken(self, node: int, last: int | None) -> int:
        """A broken arc of a node, not the one by which it was reached; those that are whole are dropped."""
        arcs = self.at[node]
        for _ in range(2):
            while not self._is_broken(arcs[-1]):
                arcs.pop()
            if arcs[-1] != last:
                break
            arcs.insert(0, arcs.pop())
        return arcs[-1]

    def _shift_round(self, way: _Way) -> None:
        """Shift the shorter way round: what is near a multiple goes there."""
        back = [(arc, -sign) for arc, sign in way]
        self._push(min(way, back, key=self._room_along))

    def _leave(self, arc: int, node: int) -> tuple[int, int]:
        tail, head = self.ends[arc]
        return (1, head) if node == tail else (-1, tail)

    def _is_broken(self, arc: int) -> bool:
        return 0 < self.level[arc] < self.unit

    def _room(self, arc: int, sign: int) -> int:
        return self.unit - self.level[arc] if sign > 0 else self.level[arc]

    def _room_along(self, way: _Way) -> int:
        return min(self._room(arc, sign) for arc, sign in way)

    def _push(self, way: _Way) -> None:
        amount = self._room_along(way)
        for arc, sign in way:
            self.level[arc] += sign * amount
