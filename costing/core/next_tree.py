"""Which patterns to put on the next tree: of what waits to be cast, the tree that is worth most, found exactly.

Masses are milligrams, money millionths of the currency, room a share of the flask. A tree is within two limits, metal
and room; what was ordered goes before what was not, the earliest day first, and of trees alike in that the one that
leaves most money is chosen.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from studio.kit.printing import print_mass, print_money, print_percent
from studio.kit.units import PCT100_WHOLE, round_half_up
from studio.kit.working import Given, Step, Working, make_working


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """Castings of one kind that wait: at most so many, each with its metal, its room, and what it is expected to leave.

    `turn` is 0 for what is due first, 1 for what is due next; None for what nobody ordered.
    """

    label: str
    most: int
    metal_mg: int
    room: Fraction
    money_micro: int
    turn: int | None = None


@dataclass(frozen=True, slots=True)
class Tree:
    """How many of each, in the order in which they were given."""

    counts: tuple[int, ...]
    metal_mg: int
    room: Fraction
    money_micro: int


def expect_money(left_micro: int, metal_micro: int, work_micro: int, failed_pct100: int) -> int:
    """What a casting is expected to leave: a good one what is left of its price, less its metal; each costs its work.

    One that fails gives its metal back and brings nothing. Rounded half up.
    """
    good = Fraction(PCT100_WHOLE - failed_pct100, PCT100_WHOLE)
    return round_half_up(good * (left_micro - metal_micro) - work_micro)


def choose_tree(waiting: Sequence[Waiting], metal_mg: int) -> Tree:
    """The best tree within so much metal and one flask, by trying all that may still be better (branch and bound).

    Raises ValueError for a casting that takes neither metal nor room.
    """
    if any(one.metal_mg <= 0 or one.room <= 0 for one in waiting):
        raise ValueError("a casting takes metal and room")
    return _Search(waiting, metal_mg).find()


Row = tuple[int, Fraction, int]
"""What one casting is worth and takes of one limit, and how many of it wait."""


class _Search:
    """Counts are chosen kind by kind, the worthiest for what it takes first.

    What cannot be better than the best so far, even if the castings that are left could be cut to fill the metal or the
    room to the last, is not tried.
    """

    def __init__(self, waiting: Sequence[Waiting], metal_mg: int) -> None:
        self.waiting, self.metal_mg = waiting, metal_mg
        self.worth = _rank(waiting)
        wanted = [place for place, worth in enumerate(self.worth) if worth > 0 and waiting[place].most > 0]
        taken = max(metal_mg, 1)
        self.order = sorted(
            wanted,
            key=lambda place: (
                self.worth[place] / (Fraction(waiting[place].metal_mg, taken) + waiting[place].room)
            ),
            reverse=True,
        )
        # For each place in the order, what is left from there on, by what a gram and by what the room of each is worth.
        tails = [self.order[start:] for start in range(len(self.order) + 1)]
        self.by_metal = [self._sort(tail, lambda one: Fraction(one.metal_mg)) for tail in tails]
        self.by_room = [self._sort(tail, lambda one: one.room) for tail in tails]
        self.best_worth = 0
        self.best: dict[int, int] = {}

    def _sort(self, tail: Sequence[int], size: Callable[[Waiting], Fraction]) -> list[Row]:
        rows = [(self.worth[place], size(self.waiting[place]), self.waiting[place].most) for place in tail]
        return sorted(rows, key=lambda row: row[0] / row[1], reverse=True)

    def find(self) -> Tree:
        self._go(0, Fraction(self.metal_mg), Fraction(1), 0, {})
        counts = tuple(self.best.get(place, 0) for place in range(len(self.waiting)))
        pairs = list(zip(counts, self.waiting, strict=True))
        return Tree(
            counts,
            sum(count * one.metal_mg for count, one in pairs),
            sum((count * one.room for count, one in pairs), Fraction(0)),
            sum(count * one.money_micro for count, one in pairs),
        )

    def _go(self, step: int, metal: Fraction, room: Fraction, worth: int, chosen: dict[int, int]) -> None:
        if worth > self.best_worth:
            self.best_worth, self.best = worth, dict(chosen)
        if step == len(self.order):
            return
        bound = worth + min(_fill(self.by_metal[step], metal), _fill(self.by_room[step], room))
        if bound <= self.best_worth:
            return
        place = self.order[step]
        one = self.waiting[place]
        most = min(one.most, int(metal / one.metal_mg), int(room / one.room))
        for count in range(most, -1, -1):
            self._go(
                step + 1,
                metal - count * one.metal_mg,
                room - count * one.room,
                worth + count * self.worth[place],
                {**chosen, place: count} if count else chosen,
            )


def _fill(rows: Sequence[Row], left: Fraction) -> Fraction:
    """What the rest could be worth if only this limit counted and castings could be cut."""
    worth = Fraction(0)
    for each, size, most in rows:
        taken = min(Fraction(most), left / size)
        worth += taken * each
        left -= taken * size
        if left <= 0:
            break
    return worth


def _rank(waiting: Sequence[Waiting]) -> list[int]:
    """One number for each casting, in which one that is due sooner outweighs all later ones, and all money."""
    worth = [one.money_micro for one in waiting]
    turns = sorted({one.turn for one in waiting if one.turn is not None}, reverse=True)
    for turn in turns:
        # More than all that was ranked so far could come to, or could cost.
        more = 1 + 2 * sum(abs(each) * one.most for each, one in zip(worth, waiting, strict=True))
        worth = [each + more if one.turn == turn else each for each, one in zip(worth, waiting, strict=True)]
    return worth


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalLimit:
    """What bounds the metal: `crucible_mg` and `shelf_mg` None where nothing is known of them.

    `button_pct100` and `sprues_pct100` are of the metal of tree and patterns, `lost_pct100` of the charge.
    """

    crucible_mg: int | None = None
    shelf_mg: int | None = None
    sprues_pct100: int = 0
    button_pct100: int = 0
    least_button_mg: int = 0
    lost_pct100: int = 0


def compute_metal_for_patterns(limit: MetalLimit) -> tuple[int, Working] | None:
    """Milligrams that the castings themselves may weigh, rounded down; None where nothing bounds them.

    What is lost, the button and the sprues come off what may be charged.
    """
    bounds = [
        (name, mass_mg)
        for name, mass_mg in (("crucible", limit.crucible_mg), ("metal on the shelf", limit.shelf_mg))
        if mass_mg is not None
    ]
    if not bounds:
        return None
    name, most_mg = min(bounds, key=lambda one: one[1])
    poured = Fraction(most_mg * (PCT100_WHOLE - limit.lost_pct100), PCT100_WHOLE)
    by_share = poured * PCT100_WHOLE / (PCT100_WHOLE + limit.button_pct100)
    tree = max(min(by_share, poured - limit.least_button_mg), Fraction(0))
    left_mg = int(tree * PCT100_WHOLE / (PCT100_WHOLE + limit.sprues_pct100))
    givens = [Given(f"at most by the {one}", print_mass(mass_mg), _FROM[one]) for one, mass_mg in bounds]
    working = make_working(
        "Metal for the castings",
        "the smaller of the bounds, less what is lost, less the button, less sprues and stem",
        *givens,
        Given("lost of the charge", print_percent(limit.lost_pct100), "past casts of this metal"),
        Given("button", print_percent(limit.button_pct100), "the casting day"),
        Given("button at least", print_mass(limit.least_button_mg), "the casting day"),
        Given("sprues and stem, of the patterns", print_percent(limit.sprues_pct100), "your last trees"),
        Step(f"bound by the {name}: {print_mass(most_mg)} less what is lost", print_mass(int(poured))),
        Step("less the button", print_mass(int(tree))),
        Step("less sprues and stem", print_mass(left_mg)),
    )
    return left_mg, working


_FROM = {"crucible": "its own page", "metal on the shelf": "what may be used and no other plan holds"}


def work_tree(waiting: Sequence[Waiting], tree: Tree, metal_mg: int) -> Working:
    """What the chosen tree takes of both limits and leaves, line by line."""
    rows = [(count, one) for count, one in zip(tree.counts, waiting, strict=True) if count]
    lines = [
        Given(
            one.label,
            f"{print_mass(one.metal_mg)}, {print_percent(round_half_up(one.room * PCT100_WHOLE))} of the flask, "
            f"{print_money(one.money_micro, 4)} expected",
            "what it has learnt, and its price",
        )
        for _, one in rows
    ]
    steps = [
        Step(
            f"{count} of {one.label}: {count} × {print_mass(one.metal_mg)}", print_mass(count * one.metal_mg)
        )
        for count, one in rows
    ]
    steps += [
        Step(
            f"{count} of {one.label}: {count} × {print_money(one.money_micro, 6)}",
            print_money(count * one.money_micro, 4),
        )
        for count, one in rows
    ]
    room = print_percent(round_half_up(tree.room * PCT100_WHOLE))
    return make_working(
        "The tree that is worth most",
        "every tree that the metal and the flask allow is weighed against the best so far; what was ordered goes "
        "first, the earliest day before later ones, then what is expected to be left",
        *lines,
        *steps,
        Step(f"metal of the castings, of {print_mass(metal_mg)}", print_mass(tree.metal_mg)),
        Step("room in the flask", room),
        result=f"{sum(tree.counts)} castings, {print_money(tree.money_micro)} expected to be left",
        source="exact: branch and bound over whole castings",
    )
