"""Whether enough is there, and which lot to take: oldest first for what keeps, else first to go out of date first.

Only a suggestion: the person names the lot that was really taken, and the stock follows the named lot.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Protocol

from studio.kit.printing import print_day, print_mass, print_quantity


def compute_use_by(received_on: date, shelf_life_days: int | None) -> date | None:
    """The last good day of what keeps so many days; None for what keeps."""
    return None if shelf_life_days is None else received_on + timedelta(days=shelf_life_days)


def compute_use_by_once_opened(
    use_by: date | None, opened_on: date, opened_life_days: int | None
) -> date | None:
    """An opened tub keeps its use-by, or the days it has once opened, whichever ends first."""
    if opened_life_days is None:
        return use_by
    opened_until = opened_on + timedelta(days=opened_life_days)
    return opened_until if use_by is None else min(use_by, opened_until)


def sets_in_time(minutes: int, least: int | None, most: int | None) -> bool | None:
    """Whether powder set within the maker's minutes; None where the maker's are not known."""
    if least is None and most is None:
        return None
    return (least or 0) <= minutes and (most is None or minutes <= most)


def is_past_use_by(use_by: date | None, day: date) -> bool:
    """Stock is good through its last day and out of date after it."""
    return use_by is not None and use_by < day


class Keeps(Protocol):
    """Stock of which is known until when it is good, since when it is damp, and since when it sets out of its time."""

    @property
    def use_by(self) -> date | None: ...
    @property
    def damp_on(self) -> date | None: ...
    @property
    def sets_wrong_on(self) -> date | None: ...


def is_usable(lot: Keeps, day: date) -> bool:
    """Whether stock may go into a flask or a plan on a day."""
    return not list_faults(lot, day)


def list_faults(lot: Keeps, day: date) -> list[str]:
    """Why stock may not be used on a day, each in words that follow its name; nothing where it may."""
    faults = []
    if lot.use_by is not None and is_past_use_by(lot.use_by, day):
        faults.append(f"was good until {print_day(lot.use_by, with_year=True)}")
    if lot.damp_on is not None and lot.damp_on <= day:
        faults.append(f"has been damp since {print_day(lot.damp_on, with_year=True)}")
    if lot.sets_wrong_on is not None and lot.sets_wrong_on <= day:
        faults.append(f"set out of its time on {print_day(lot.sets_wrong_on, with_year=True)}")
    return faults


@dataclass(frozen=True, slots=True)
class LotOnHand:
    """A lot that could be taken: the day it came, what is left in small units, the last day it is good."""

    key: int
    label: str
    day: date
    quantity: int
    use_by: date | None = None
    damp_on: date | None = None
    sets_wrong_on: date | None = None


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A lot that was passed over, and why."""

    key: int
    reason: str


@dataclass(frozen=True, slots=True)
class Suggestion:
    """(lot key, quantity) to take in turn; nothing to take and a `problem` when there is not enough."""

    takes: tuple[tuple[int, int], ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    problem: str = ""


def suggest_oldest_first(lots: Sequence[LotOnHand], wanted: int, unit: str = "mass") -> Suggestion:
    """Take the lots in the order they came. `unit` is how quantities print: mass, volume or items."""
    return _take_in_turn(sorted(lots, key=lambda lot: (lot.day, lot.key)), wanted, unit, ())


def suggest_first_to_expire(
    lots: Sequence[LotOnHand], wanted: int, today: date, unit: str = "mass"
) -> Suggestion:
    """Take first what goes out of date first; what is not usable is left out, and said why."""
    good = [lot for lot in lots if is_usable(lot, today)]
    left_out = tuple(LeftOut(lot.key, _say_unusable(lot, today)) for lot in lots if lot not in good)
    in_turn = sorted(good, key=lambda lot: (lot.use_by or date.max, lot.day, lot.key))
    return _take_in_turn(in_turn, wanted, unit, left_out)


def tell_unusable(lot: Keeps, day: date) -> str:
    """Why stock is not usable: "was good until Mon 7 Dec 2026 and has been damp since Tue"; "" of what is."""
    return " and ".join(list_faults(lot, day))


def _say_unusable(lot: LotOnHand, today: date) -> str:
    return f"{lot.label} {tell_unusable(lot, today)}."


def _take_in_turn(
    in_turn: Sequence[LotOnHand], wanted: int, unit: str, left_out: tuple[LeftOut, ...]
) -> Suggestion:
    held = sum(lot.quantity for lot in in_turn)
    if wanted > held:
        problem = (
            f"Only {print_quantity(held, unit)} can be taken and {print_quantity(wanted, unit)} are wanted."
        )
        if left_out:
            problem += " Left out: " + " ".join(lot.reason for lot in left_out)
        return Suggestion(left_out=left_out, problem=problem)
    takes: list[tuple[int, int]] = []
    missing = wanted
    for lot in in_turn:
        taken = min(missing, lot.quantity)
        if taken > 0:
            takes.append((lot.key, taken))
            missing -= taken
    return Suggestion(tuple(takes), left_out)


@dataclass(frozen=True, slots=True)
class Need:
    """Milligrams of one material: wanted, held in all, and free of other plans' promises.

    Of an alloy, `alloyed_mg` more is made of other metal, and `barred` says that no charge of it keeps the rules.
    """

    label: str
    wanted_mg: int
    held_mg: int
    free_mg: int
    alloyed_mg: int = 0
    barred: bool = False

    @property
    def short_mg(self) -> int:
        return max(self.wanted_mg - self.free_mg - self.alloyed_mg, 0)

    @property
    def short(self) -> bool:
        return self.short_mg > 0

    @property
    def lacking(self) -> bool:
        return self.short or self.barred

    @property
    def sentence(self) -> str:
        promised_mg = self.held_mg - self.free_mg
        words = f"{self.label}: {print_mass(self.wanted_mg)} wanted, {print_mass(self.held_mg)} here"
        if promised_mg:
            words += f", {print_mass(promised_mg)} of it promised to other plans"
        if self.alloyed_mg:
            words += f", {print_mass(self.alloyed_mg)} of other metal to alloy it from"
        if self.short:
            return f"{words}: {print_mass(self.short_mg)} short."
        return f"{words}, but no charge of it keeps your rules." if self.barred else f"{words}: enough."


def check_need(label: str, wanted_mg: int, held_mg: int, free_mg: int) -> Need:
    """A need of one material. Raises ValueError when more is free than is held."""
    if free_mg > held_mg:
        raise ValueError(f"{free_mg} free of {held_mg} held")
    return Need(label, wanted_mg, held_mg, free_mg)
