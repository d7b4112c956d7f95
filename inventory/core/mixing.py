"""Investment powder mixed in turn: into how many bowls it is split, which flasks each of them fills, and their starts.

Masses are milligrams, times whole seconds.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from studio.kit.printing import print_bulk, print_mass, print_seconds
from studio.kit.rounding import allocate_largest_remainder
from studio.kit.working import Given, Step, Working, make_working, origin_of

from .investing import Phase


@dataclass(frozen=True, slots=True)
class BowlMix:
    """One bowl: its powder and water, and the places of the flasks that it fills with the powder for each."""

    powder_mg: int
    water_mg: int
    fills: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class MixTurn:
    """One bowl on the day: the parts of its working time, the flasks that it fills, and how much of what goes in."""

    phases: tuple[Phase, ...]
    flasks: str = ""
    told: str = ""

    @property
    def seconds(self) -> int:
        return self.phases[-1].end_s if self.phases else 0


def split_bowls(
    shares_mg: Sequence[int], water_mg: int, most_mg: int, step_mg: int = 1
) -> tuple[BowlMix, ...]:
    """The powder of each flask, put into bowls that take `most_mg` (0: nobody said).

    A flask is filled from one bowl where it goes into one, for a second pour does not bond with what has set. One that
    takes more has bowls of its own, split equally by the step of the scale; the rest is put into bowls as alike as can
    be.
    """
    large = [place for place, share in enumerate(shares_mg) if 0 < most_mg < share]
    small = [place for place, share in enumerate(shares_mg) if place not in large and share]
    filled = [[(place, part)] for place in large for part in _split_flask(shares_mg[place], most_mg, step_mg)]
    filled += _share_out(small, shares_mg, most_mg)
    filled.sort(key=lambda fills: min(place for place, _ in fills))
    masses = [sum(part for _, part in fills) for fills in filled]
    waters = allocate_largest_remainder(water_mg, masses) if masses else []
    return tuple(
        BowlMix(mass, water, tuple(sorted(fills)))
        for mass, water, fills in zip(masses, waters, filled, strict=True)
    )


def _split_flask(share_mg: int, most_mg: int, step_mg: int) -> list[int]:
    """Parts of a flask's powder that each go into a bowl, alike to a step of the scale."""
    step_mg = step_mg if most_mg >= step_mg else 1
    bowls = -(-share_mg // (most_mg // step_mg * step_mg))
    steps, rest = divmod(share_mg, step_mg)
    parts = [part * step_mg for part in allocate_largest_remainder(steps, [1] * bowls)]
    parts[-1] += rest
    return sorted(parts, reverse=True)


def _share_out(places: Sequence[int], shares_mg: Sequence[int], most_mg: int) -> list[list[tuple[int, int]]]:
    """Whole flasks into the fewest bowls into which they go when the largest goes first into the emptiest."""
    if not places:
        return []
    whole = sum(shares_mg[place] for place in places)
    bowls = -(-whole // most_mg) if most_mg else 1
    while True:
        filled: list[list[tuple[int, int]]] = [[] for _ in range(bowls)]
        for place in sorted(places, key=lambda one: -shares_mg[one]):
            emptiest = min(filled, key=_mass_of)
            emptiest.append((place, shares_mg[place]))
        if not most_mg or all(_mass_of(fills) <= most_mg for fills in filled):
            return [fills for fills in filled if fills]
        bowls += 1


def _mass_of(fills: Iterable[tuple[int, int]]) -> int:
    return sum(part for _, part in fills)


def compute_bowls(
    shares_mg: Sequence[int], water_mg: int, most_mg: int, step_mg: int, labels: Sequence[str]
) -> tuple[tuple[BowlMix, ...], Working]:
    """The same with its working; `labels` names the flasks."""
    mixes = split_bowls(shares_mg, water_mg, most_mg, step_mg)
    lines = [
        Step(f"mix {number}: {say_fills(mix, labels)}", f"{print_mass(mix.powder_mg)} powder")
        for number, mix in enumerate(mixes, 1)
    ]
    working = make_working(
        "How the powder is split over bowls",
        "whole flasks into as few bowls as take them, the largest first into the emptiest; a flask that takes more "
        "than a bowl has its own, alike",
        Given("powder in one bowl, at most", print_bulk(most_mg), origin_of(most_mg)),
        *(
            Given(label, print_mass(share), "its flask")
            for label, share in zip(labels, shares_mg, strict=True)
        ),
        *lines,
        result=f"{len(mixes)} {'mix' if len(mixes) == 1 else 'mixes'}",
        notes=(
            "A flask is filled from one bowl where it can be: a second pour does not bond with what has set.",
        ),
    )
    return mixes, working


def say_fills(mix: BowlMix, labels: Sequence[str]) -> str:
    """ "fern studs and bud rings"."""
    names = [labels[place] for place, _ in mix.fills]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def tell_bowls(mixes: Sequence[BowlMix], most_mg: int, working_s: int, labels: Sequence[str] = ()) -> str:
    """What is to be said of more powder than is mixed at once; "" where one bowl takes it."""
    if len(mixes) <= 1:
        return ""
    whole = sum(mix.powder_mg for mix in mixes)
    said = (
        f"{print_bulk(whole)} of powder is more than one bowl takes, {print_bulk(most_mg)}: mix {len(mixes)} bowls in "
        f"turn. Each has {print_seconds(working_s)} of its own from its powder going in."
    )
    bowls: dict[int, int] = {}
    for mix in mixes:
        for place, _ in mix.fills:
            bowls[place] = bowls.get(place, 0) + 1
    for place, count in bowls.items():
        if count > 1:
            name = labels[place] if len(labels) > 1 else "The flask"
            said += (
                f" {name} takes {count} of them, and the first begins to set before the last is in: have a second pair "
                "of hands, or a larger bowl."
            )
    return said


def list_turns(mixes: Sequence[BowlMix], phases: tuple[Phase, ...], labels: Sequence[str]) -> list[MixTurn]:
    """The bowls of one powder, whose working time has these parts."""
    return [
        MixTurn(
            phases,
            say_fills(mix, labels),
            f"{print_mass(mix.powder_mg)} of powder into {print_mass(mix.water_mg)} of water",
        )
        for mix in mixes
    ]
