"""How well the fineness of metal is known, through charges and remelts, and what an assay puts right in what was made.

Masses are milligrams, fine metal micrograms, fineness parts per million of the mass ("ppm", a thousandth of a part per
thousand), so that milligrams times ppm are thousandths of a microgram. A charge holds as little fine metal as its
portions hold at the least, and as much as they hold at the most: the mean of the ends by mass. The turn of something is
its place in the book.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from fractions import Fraction

from studio.kit.measures import PURITY
from studio.kit.units import PER_MILLE_WHOLE, PPM_PER_MILLE, divide_half_up, round_half_up

from .ledger import Amount

PPM_WHOLE = PER_MILLE_WHOLE * PPM_PER_MILLE
#: Each draw rounds to a microgram, so that much above 1000 of 1000 is no fault.
ROUNDINGS_UG = 100


@dataclass(frozen=True, slots=True)
class Known:
    """So much metal: what it holds by the book, and the least and the most that it may hold.

    `low_ug` and `high_ug` are None where nobody said more than the book does; `is_guess` where some of it was never
    proved.
    """

    mass_mg: int = 0
    fine_ug: int = 0
    low_ug: int | None = None
    high_ug: int | None = None
    is_guess: bool = False

    def __add__(self, other: "Known") -> "Known":
        ends: tuple[int | None, int | None] = (None, None)
        if self.low_ug is not None or other.low_ug is not None:
            ends = (self.least_ug + other.least_ug, self.most_ug + other.most_ug)
        return Known(
            self.mass_mg + other.mass_mg,
            self.fine_ug + other.fine_ug,
            *ends,
            is_guess=self.is_guess or other.is_guess,
        )

    @property
    def without_fine(self) -> "Known":
        """The same where its fine metal does not count: silver in gold."""
        end = None if self.low_ug is None else 0
        return Known(self.mass_mg, 0, end, end, self.is_guess)

    @property
    def least_ug(self) -> int:
        """What a mark is held against."""
        return self.fine_ug if self.low_ug is None else self.low_ug

    @property
    def most_ug(self) -> int:
        return self.fine_ug if self.high_ug is None else self.high_ug

    @property
    def ends_ppm(self) -> tuple[int | None, int | None]:
        """The ends of its fineness, the low one rounded down and the high one up; None where it has none."""
        if self.low_ug is None or self.high_ug is None or not self.mass_mg:
            return None, None
        low, high = self.low_ug * PPM_PER_MILLE, self.high_ug * PPM_PER_MILLE
        return low // self.mass_mg, min(-(-high // self.mass_mg), PPM_WHOLE)


def know(mass_mg: int, fine_ug: int, is_guess: bool, low_ppm: int | None, high_ppm: int | None) -> Known:
    """A portion of a lot; its ends count only while they are a guess, for then the book holds their middle."""
    if not is_guess or low_ppm is None or high_ppm is None:
        return Known(mass_mg, fine_ug, is_guess=is_guess)
    return _between(mass_mg, fine_ug, low_ppm, high_ppm, is_guess=True)


def _between(mass_mg: int, fine_ug: int, low_ppm: int, high_ppm: int, is_guess: bool) -> Known:
    low, high = mass_mg * low_ppm, mass_mg * high_ppm
    return Known(mass_mg, fine_ug, low // PPM_PER_MILLE, -(-high // PPM_PER_MILLE), is_guess)


def compute_middle_ug(mass_mg: int, low_ppm: int, high_ppm: int) -> int:
    """The fine metal that the book holds of metal between two ends, rounded half up."""
    return divide_half_up(mass_mg * (low_ppm + high_ppm), 2 * PPM_PER_MILLE)


def print_ppm(ppm: int) -> str:
    """ "925" or "862.5" of 1000; "925.25" where there is more to say."""
    return PURITY.print(ppm)


class By(StrEnum):
    """From what a fineness is known."""

    MARKED = "marked"
    CHARGE = "charge"
    ASSAYED = "assayed"
    GUESS = "guess"


@dataclass(frozen=True, slots=True)
class Said:
    """What was said of a lot in one turn of the book; of what was assayed both ends are the figure.

    `goes_on` when it was carried on through what had been made of the lot before.
    """

    turn: int
    by: str
    low_ppm: int | None = None
    high_ppm: int | None = None
    goes_on: bool = False

    @property
    def middle_ppm(self) -> Fraction:
        return Fraction((self.low_ppm or 0) + (self.high_ppm or 0), 2)


@dataclass(frozen=True, slots=True)
class Mixed:
    """A portion of a lot in a mix: in the charge of a crucible, in a lot made of lots, in a batch for a refiner.

    `mix` is the holder that it went into, and `made_by` the mix that its lot came out of. `by` is what its lot is known
    from where nobody said anything of it; None for as well as that mix, which was no melt. `fine_ug` is 0, and it does
    not count, where it is of another precious metal than the mix.
    """

    mix: int
    turn: int
    lot: int
    mass_mg: int
    fine_ug: int
    made_by: int | None = None
    by: str | None = By.MARKED
    counts: bool = True


@dataclass(frozen=True, slots=True)
class Melt:
    """What is known of a mix, from what its parts are known if that is one thing, and in which turn that was last
    carried on to it; 0 for never."""

    known: Known
    went_on: int = 0
    by: str = By.CHARGE

    def __add__(self, other: "Melt") -> "Melt":
        by = self.by if self.by == other.by else By.CHARGE
        return Melt(self.known + other.known, max(self.went_on, other.went_on), by)

    @property
    def says(self) -> tuple[str, int | None, int | None]:
        """What is said of a lot that holds nothing else, and the ends of its fineness."""
        return (By.GUESS, *self.known.ends_ppm) if self.known.is_guess else (self.by, None, None)


Sayings = Mapping[int, Sequence[Said]]
"""All that was said of each lot, in turn."""


def know_portion(
    mass_mg: int, fine_ug: int, by: str, low_ppm: int | None = None, high_ppm: int | None = None
) -> Melt:
    """A portion of a lot as it is known at that time."""
    return Melt(know(mass_mg, fine_ug, by == By.GUESS, low_ppm, high_ppm), by=by)


def know_mixes(portions: Iterable[Mixed], said: Sayings) -> dict[int, Melt]:
    """What is known of every mix. They come in such an order that each stands after every one whose metal is in it."""
    melts: dict[int, Melt] = {}
    for portion in portions:
        one = _know_portion(portion, said.get(portion.lot, ()), melts)
        melts[portion.mix] = melts[portion.mix] + one if portion.mix in melts else one
    return melts


def _know_portion(portion: Mixed, said: Sequence[Said], melts: Mapping[int, Melt]) -> Melt:
    carried = _carried_past(portion, said)
    then = next((one for one in reversed(said) if one.turn < portion.turn), None)
    if carried is not None:
        found = _carry(portion, carried)
    elif then is not None:
        found = know_portion(portion.mass_mg, portion.fine_ug, then.by, then.low_ppm, then.high_ppm)
    elif portion.made_by in melts and portion.made_by is not None:
        found = _know_remelt(portion, melts[portion.made_by])
    else:
        found = know_portion(portion.mass_mg, portion.fine_ug, portion.by or By.MARKED)
    return found if portion.counts else replace(found, known=found.known.without_fine)


def _carried_past(portion: Mixed, said: Sequence[Said]) -> Said | None:
    """What was said last of its lot after it was drawn, and carried on to it."""
    return next((one for one in reversed(said) if one.goes_on and one.turn > portion.turn), None)


def _carry(portion: Mixed, carried: Said) -> Melt:
    low, high = carried.low_ppm or 0, carried.high_ppm or 0
    known = _between(portion.mass_mg, portion.fine_ug, low, high, carried.by == By.GUESS)
    return Melt(known, went_on=carried.turn, by=carried.by)


def _know_remelt(portion: Mixed, melt: Melt) -> Melt:
    """What came out of a mix is of one make. Drawn after something was carried on, it is right by the book."""
    known, by = melt.known, portion.by or melt.by
    low, high = known.ends_ppm
    if melt.went_on < portion.turn or low is None or high is None:
        return Melt(know(portion.mass_mg, portion.fine_ug, known.is_guess, low, high), by=by)
    ends = _between(portion.mass_mg, portion.fine_ug, low, high, known.is_guess)
    return Melt(ends, went_on=melt.went_on, by=by)


def spread_assay(
    portions: Iterable[Mixed], lot: int, fineness_ppm: Fraction, said: Sayings
) -> dict[int, Fraction]:
    """What each milligram of every mix with metal of a lot holds more (micrograms, below zero for less) when the
    lot is of this fineness. Metal that somebody assayed by itself in between is known and carries nothing on."""
    more: dict[int, Fraction] = {}
    masses: dict[int, int] = {}
    sums: dict[int, Fraction] = {}
    for portion in portions:
        change = _change_of(portion, lot, fineness_ppm, said.get(portion.lot, ()), more)
        masses[portion.mix] = masses.get(portion.mix, 0) + portion.mass_mg
        if change is not None:
            sums[portion.mix] = sums.get(portion.mix, Fraction(0)) + (change if portion.counts else 0)
        if portion.mix in sums:
            more[portion.mix] = sums[portion.mix] / masses[portion.mix]
    return more


def spread_within(
    portions: Sequence[Mixed], mix: int, lot: int, fineness_ppm: Fraction, said: Sayings
) -> dict[int, Fraction]:
    """The same of one mix, by each lot in it: what all of its portions hold more, in micrograms."""
    more = spread_assay(portions, lot, fineness_ppm, said)
    changes: dict[int, Fraction] = {}
    for portion in portions:
        if portion.mix == mix:
            change = _change_of(portion, lot, fineness_ppm, said.get(portion.lot, ()), more)
            changes[portion.lot] = changes.get(portion.lot, Fraction(0)) + (change or 0)
    return changes


def _change_of(
    portion: Mixed, lot: int, fineness_ppm: Fraction, said: Sequence[Said], more: Mapping[int, Fraction]
) -> Fraction | None:
    """What a portion holds more, in micrograms; None where nothing of the lot is in it."""
    if portion.lot == lot:
        carried = _carried_past(portion, said)
        booked = Fraction(portion.fine_ug)
        if carried is not None:
            booked = portion.mass_mg * carried.middle_ppm / PPM_PER_MILLE
        return portion.mass_mg * fineness_ppm / PPM_PER_MILLE - booked
    if portion.made_by in more and portion.made_by is not None:
        is_known_by_itself = any(one.turn < portion.turn for one in said)
        return None if is_known_by_itself else portion.mass_mg * more[portion.made_by]
    return None


def compute_put_right_ug(mass_mg: int, fine_ug: int, more_ug_mg: Fraction) -> int:
    """The fine metal of something once each of its milligrams holds so much more; never more than it weighs."""
    changed = round_half_up(fine_ug + mass_mg * more_ug_mg)
    return min(max(changed, 0), mass_mg * PPM_PER_MILLE)


def first_day_beyond(changes: Iterable[tuple[date, Amount]], day: date, change_ug: int) -> date | None:
    """The first day from `day` on at whose end a holder, with so much more fine metal from `day` on, would hold less
    than none or more than it weighs; None if there is none. `changes` are its signed movements in any order."""
    days: dict[date, Amount] = {day: Amount(fine_ug=change_ug)}
    for moved_on, change in changes:
        # What moved before is there when the day begins.
        at = max(moved_on, day)
        days[at] = days.get(at, Amount()) + change
    balance = Amount()
    for at in sorted(days):
        balance += days[at]
        if not 0 <= balance.fine_ug <= balance.quantity * PPM_PER_MILLE + ROUNDINGS_UG:
            return at
    return None
