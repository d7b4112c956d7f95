"""What a charge is proposed from: the lots on the shelf, what is wanted, and which lots may go in at all.

Masses are milligrams, fine metal micrograms, shares hundredths of a per cent, melts thousandths, cost
millionths of the currency.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from studio.kit.printing import print_mass, print_melts

from .alloying import Portion
from .charge import ChargeRules
from .ledger import Amount, draw, rate_of
from .picking import LeftOut

FINE_PER_MILLE = 999
SMALLEST_MG = 100
STEP_MG = 10


@dataclass(frozen=True, slots=True)
class ShelfLot:
    """A lot of metal. `held` is all that is in it, `free_mg` what of it is not promised to another cast.

    The fine metal in `held` is that of the cast's own precious metal. `is_alloying` marks fine metal and base
    metal that are kept to alloy with; they count as fresh. `is_same` tells metal of the cast's own alloy from all
    other. `owner` is None for the studio's own metal.
    """

    key: int
    label: str
    held: Amount
    free_mg: int
    day: date
    melts_milli: int = 0
    is_fresh: bool = True
    is_alloying: bool = False
    owner: int | None = None
    is_same: bool = True
    is_guess: bool = False

    @property
    def counts_fresh(self) -> bool:
        return self.is_fresh or self.is_alloying

    @property
    def usable_mg(self) -> int:
        return min(self.free_mg, self.held.quantity)

    def take(self, mass_mg: int) -> Amount:
        """What so much of it carries, as the book would draw it; at the same rate where it holds less."""
        if not self.held.quantity:
            return Amount(mass_mg)
        return draw(self.held, mass_mg) if mass_mg <= self.held.quantity else rate_of(self.held, mass_mg)

    def portion(self, mass_mg: int) -> Portion:
        fine_ug = self.take(mass_mg).fine_ug
        return Portion(
            self.label, mass_mg, fine_ug, self.melts_milli, self.counts_fresh, is_guess=self.is_guess
        )


@dataclass(frozen=True, slots=True)
class ChargeWanted:
    """The charge that is wanted: how much, by which rules, and whose it is (None: the studio's).

    `smallest_mg` is the smallest portion worth weighing and `step_mg` the division of the scale. `metal` and
    `finer_per_mille` name the fine metal that could be bought to reach the mark.
    """

    needed_mg: int
    rules: ChargeRules
    owner: int | None = None
    metal: str = "silver"
    finer_per_mille: int = FINE_PER_MILLE
    smallest_mg: int = SMALLEST_MG
    step_mg: int = STEP_MG


class Bind(StrEnum):
    """What keeps a charge from being made."""

    NOTHING_WANTED = "no mass is wanted"
    ON_HAND = "a lot holds too little"
    TOTAL = "too little metal"
    FRESH = "too little fresh metal"
    MELTS = "melted too often"
    MARK = "not fine enough"
    OWNER = "not theirs to use"
    UNEVEN = "no whole milligrams fit"


@dataclass(frozen=True, slots=True)
class Problem:
    """A rule that binds, in a sentence. `missing_mg` of fresh metal of `add_per_mille` would mend it.

    `missing_mg` is 0 where grams are not the remedy.
    """

    bind: Bind
    sentence: str
    missing_mg: int = 0
    add_per_mille: int = 0


@dataclass(frozen=True, slots=True)
class Shelf:
    """The lots that may go in, those that a rule bars, and why each of these stays out."""

    usable: tuple[ShelfLot, ...]
    foreign: tuple[ShelfLot, ...]
    tired: tuple[ShelfLot, ...]
    left_out: tuple[LeftOut, ...]


def is_foreign(lot: ShelfLot, wanted: ChargeWanted) -> bool:
    """Whether the metal is somebody's for whom this cast is not. A customer's cast may take the studio's."""
    return lot.owner is not None and lot.owner != wanted.owner


def is_tired(lot: ShelfLot, wanted: ChargeWanted) -> bool:
    """Whether the lot is reclaim that the rules hold to be melted too often."""
    return not lot.counts_fresh and wanted.rules.is_tired(lot.melts_milli)


def sort_shelf(lots: Iterable[ShelfLot], wanted: ChargeWanted) -> Shelf:
    """Part the lots that may go in from those that are empty, somebody else's or melted too often."""
    usable, foreign, tired, left_out = [], [], [], []
    for lot in lots:
        reason = ""
        if lot.usable_mg <= 0:
            reason = f"{lot.label} has nothing left that is not promised."
        elif is_foreign(lot, wanted):
            foreign.append(lot)
            reason = f"{lot.label} belongs to {say_whose(wanted)} and stays theirs."
        elif is_tired(lot, wanted):
            tired.append(lot)
            reason = (
                f"{lot.label} has had {print_melts(lot.melts_milli)}; your limit is "
                f"{print_melts(wanted.rules.most_melts_milli)}."
            )
        else:
            usable.append(lot)
        left_out += [LeftOut(lot.key, reason)] if reason else []
    return Shelf(tuple(usable), tuple(foreign), tuple(tired), tuple(left_out))


def say_whose(wanted: ChargeWanted) -> str:
    return "a customer" if wanted.owner is None else "another customer"


def say_short(here_mg: int, needed_mg: int) -> str:
    return f"{print_mass(needed_mg - here_mg)} short"
