"""Flasks of one firing melted and poured in turn: in which order, and when each is melted, taken out, poured, quenched.

Whole minutes, counted from the first pour. There is one melter, one vacuum table and one person.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, groupby, islice, permutations, product
from math import exp
from typing import TypeVar

T = TypeVar("T")

HAND_MINUTES = 1
"""To charge the crucible, to pour, to quench: a guess of ours."""
GROUPINGS_MOST = 720
"""So many ways to put the crucibles one after another are looked at: all there are of six."""


@dataclass(frozen=True, slots=True)
class Bench:
    """What the studio says of its pours, in minutes.

    A flask leaves the kiln `out_minutes` before its own pour, its vacuum goes on for `table_minutes` after it, and
    another crucible takes `change_minutes`. Metal of the first flask goes in `lead_minutes` before its pour.
    """

    lead_minutes: int = 20
    out_minutes: int = 1
    table_minutes: int = 3
    change_minutes: int = 5
    quench_minutes: int = 15


@dataclass(frozen=True, slots=True)
class Waiting:
    """A flask that waits in the kiln: how long its metal melts, of which family that is, and in which crucible.

    `foulness` is 0 for the cleanest metal; `flask_c` the most that its alloy asks of the flask, None not known;
    `quench_minutes` is its alloy's own wait, None the studio's.
    """

    melt_minutes: int
    family: str = ""
    foulness: int = 0
    crucible: str = ""
    flask_c: int | None = None
    quench_minutes: int | None = None

    def quenched_after(self, bench: Bench) -> int:
        """Minutes from its pour to the earliest quench."""
        return bench.quench_minutes if self.quench_minutes is None else self.quench_minutes


@dataclass(frozen=True, slots=True)
class Turn:
    """When what is done for the flask at this place of the list; minutes from the first pour, below zero before it."""

    place: int
    metal_in: int
    melted: int
    out: int
    pour: int
    quench: int
    changes_crucible: bool = False


def order_flasks(flasks: Sequence[Waiting], bench: Bench) -> tuple[int, ...]:
    """The places of the flasks in the order of their pours.

    Clean metals go first, a family of metals and its crucible one after another, and of those the hottest flask first.
    Among what these leave open, the flasks wait the least together. Source of the rules: common practice.
    """
    ways = (
        tuple(chain.from_iterable(_inside(group, flasks, is_first=not at) for at, group in enumerate(groups)))
        for groups in _first_ways(_list_groupings(flasks))
    )
    return min(ways, key=lambda order: sum(_compute_pours(order, flasks, bench)), default=())


def _first_ways(ways: Iterable[T]) -> Iterator[T]:
    return islice(ways, GROUPINGS_MOST)


def _list_groupings(flasks: Sequence[Waiting]) -> Iterator[tuple[tuple[int, ...], ...]]:
    """Every order of the crucibles that the rules allow; families of one cleanness may change places."""

    def split(places: Iterable[int], name: str) -> list[tuple[int, ...]]:
        def key(place: int) -> str | int:
            found: str | int = getattr(flasks[place], name)
            return found

        return [tuple(group) for _, group in groupby(sorted(places, key=key), key)]

    def arrange(families: Iterable[tuple[int, ...]]) -> Iterator[tuple[tuple[int, ...], ...]]:
        for of_one in product(*(_first_ways(permutations(split(family, "crucible"))) for family in families)):
            yield tuple(chain.from_iterable(of_one))

    levels = (
        _first_ways(chain.from_iterable(arrange(order) for order in permutations(split(level, "family"))))
        for level in split(range(len(flasks)), "foulness")
    )
    for way in product(*levels):
        yield tuple(chain.from_iterable(way))


def _inside(group: Sequence[int], flasks: Sequence[Waiting], is_first: bool) -> list[int]:
    """The hottest flask first, then the quickest melt: it keeps the fewest waiting.

    Nobody waits for the very first melt, so of those that may be it the longest is.
    """
    inside = sorted(group, key=lambda place: (-(flasks[place].flask_c or 0), flasks[place].melt_minutes))
    if is_first:
        alike = [place for place in inside if flasks[place].flask_c == flasks[inside[0]].flask_c]
        longest = max(alike, key=lambda place: flasks[place].melt_minutes)
        inside.remove(longest)
        inside.insert(0, longest)
    return inside


def _changes(before: Waiting, after: Waiting) -> bool:
    return (before.family, before.crucible) != (after.family, after.crucible)


def _compute_pours(order: Sequence[int], flasks: Sequence[Waiting], bench: Bench) -> list[int]:
    """The minute of each pour in this order, the first at 0: when melter, table and hands are free again."""
    pours = [0] * bool(order)
    for before, after in zip(order, order[1:], strict=False):
        change = bench.change_minutes if _changes(flasks[before], flasks[after]) else 0
        melted = HAND_MINUTES + change + _melter_minutes(flasks[after], bench)
        table = min(bench.table_minutes, flasks[before].quenched_after(bench)) + bench.out_minutes
        pours.append(pours[-1] + max(melted, table))
    return pours


def _melter_minutes(flask: Waiting, bench: Bench) -> int:
    """From the metal going in to the pour, at the least: a flask leaves the kiln when its metal has melted."""
    return max(flask.melt_minutes, HAND_MINUTES) + bench.out_minutes


def compute_turns(flasks: Sequence[Waiting], bench: Bench, first_in: int | None = None) -> tuple[Turn, ...]:
    """Every flask's own times in the order of the pours.

    The first pour is at 0 and its metal in at `first_in`, or else at the studio's lead. Metal of the others goes in as
    late as it can, for molten metal that waits takes up gas. A quench comes later where the hands are not free.
    """
    order = order_flasks(flasks, bench)
    pours = _compute_pours(order, flasks, bench)
    turns: list[Turn] = []
    for at, (place, pour) in enumerate(zip(order, pours, strict=True)):
        flask = flasks[place]
        in_minutes = _melter_minutes(flask, bench)
        if at == 0:
            in_minutes = _first_minutes(flask, bench, first_in, is_alone=len(order) == 1)
        metal_in = pour - in_minutes
        turns.append(
            Turn(
                place=place,
                metal_in=metal_in,
                melted=min(pour, metal_in + flask.melt_minutes),
                out=pour - bench.out_minutes,
                pour=pour,
                quench=pour + flask.quenched_after(bench),
                changes_crucible=at > 0 and _changes(flasks[order[at - 1]], flask),
            )
        )
    return _quench_between(turns, bench)


def _first_minutes(flask: Waiting, bench: Bench, first_in: int | None, is_alone: bool) -> int:
    wished = bench.lead_minutes if first_in is None else -first_in
    return wished if is_alone else max(wished, _melter_minutes(flask, bench))


def _list_busy(turn: Turn, bench: Bench) -> Iterator[tuple[int, int]]:
    """When the hands are full: from a minute up to a minute."""
    change = bench.change_minutes if turn.changes_crucible else 0
    yield turn.metal_in - change, turn.metal_in + HAND_MINUTES
    yield turn.out, turn.pour + HAND_MINUTES


def _quench_between(turns: Sequence[Turn], bench: Bench) -> tuple[Turn, ...]:
    busy = [span for turn in turns for span in _list_busy(turn, bench)]
    found: dict[int, int] = {}
    for turn in sorted(turns, key=lambda one: one.quench):
        at = turn.quench
        for begins, ends in sorted(busy) if len(turns) > 1 else ():
            if begins < at + HAND_MINUTES and at < ends:
                at = ends
        busy.append((at, at + HAND_MINUTES))
        found[turn.place] = at
    return tuple(replace(turn, quench=found[turn.place]) for turn in turns)


COOLING_MINUTES = 60
"""What a flask out of the kiln has for its time of cooling until the studio measures it: a guess of ours."""


def compute_cooled_c(from_c: int, minutes: int, room_c: int = 20, tau_minutes: int = COOLING_MINUTES) -> int:
    """Whole degrees after so many minutes out of the kiln (Newton): room + (from - room) e^(-t/tau)."""
    return round(room_c + (from_c - room_c) * exp(-minutes / tau_minutes))
