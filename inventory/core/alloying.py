"""What a charge is: its fineness, whether it reaches a mark, how to mend it, and how often it was melted.

Fineness is parts per thousand of the precious metal; fine metal is micrograms, so that milligrams times
parts per thousand is exact. Ratios are fractions and never rounded on the way.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from studio.kit.printing import print_decimal, print_fine, print_fineness, print_mass, print_melts
from studio.kit.units import MELTS_MILLI_PER_MELT, PER_MILLE_WHOLE, round_half_up
from studio.kit.working import Given, Step, Working, make_working

ALLOYING_SOURCE = "Warren, Manual of Mechanical Dentistry and Metallurgy, p. 206 and 207"
UG_PER_MG = 1_000
MARK_SOURCE = "Hallmarking Act 1973, s. 1(4A) to (4D): no minus tolerance"
GUIDANCE = "Guidance only: local law and the assay office decide."

MARKS_PER_MILLE: dict[str, tuple[int, ...]] = {
    "silver": (999, 958, 925, 800),
    "gold": (999, 990, 916, 750, 585, 375),
    "palladium": (999, 950, 500),
    "platinum": (999, 950, 900, 850),
}
"""Standards of fineness, finest first; from the Hallmarking Act 1973 as amended."""

EXEMPT_BELOW_MG: dict[str, int] = {"silver": 7_780, "gold": 1_000, "palladium": 1_000, "platinum": 500}
"""Articles lighter than this need no hallmark but must reach the fineness: the Act's Schedule 1."""


@dataclass(frozen=True, slots=True)
class Portion:
    """What one lot gives to a charge. `fine_ug` is what that much of the lot holds in fine metal.

    `is_guess` when nobody proved that; `low_ug` is then the least that it may be, if somebody said.
    """

    label: str
    mass_mg: int
    fine_ug: int = 0
    melts_milli: int = 0
    is_fresh: bool = True
    origin: str = "weighed into the crucible"
    is_guess: bool = False
    low_ug: int | None = None

    @property
    def least_ug(self) -> int:
        """The fine metal that it holds at the least: what a mark is held against."""
        return self.fine_ug if self.low_ug is None else self.low_ug


@dataclass(frozen=True, slots=True)
class Mend:
    """Metal to add, in whole milligrams, or the sentence that says why adding it cannot help."""

    add_mg: int = 0
    problem: str = ""
    working: Working | None = None


@dataclass(frozen=True, slots=True)
class MarkVerdict:
    """Whether metal reaches a mark; if not, `missing_ug` of fine metal and `add_mg` of finer metal."""

    reaches: bool
    missing_ug: int
    add_mg: int | None
    sentence: str
    working: Working


def compute_fineness(fine_ug: int, mass_mg: int) -> Fraction:
    """Exact parts per thousand. Raises ValueError when there is no mass."""
    if mass_mg <= 0:
        raise ValueError("no metal, no fineness")
    return Fraction(fine_ug, mass_mg)


def compute_charge_fineness(portions: Sequence[Portion]) -> tuple[Fraction, Working]:
    """Fineness of a charge: all its fine metal over all its mass. Raises ValueError for no mass."""
    mass_mg = sum(portion.mass_mg for portion in portions)
    fine_ug = sum(portion.fine_ug for portion in portions)
    fineness = compute_fineness(fine_ug, mass_mg)
    printed = f"{print_fineness(fine_ug, mass_mg)} of 1000"
    working = make_working(
        "Fineness of the charge",
        "the fine metal of all portions, divided by the mass of all portions",
        *(
            Given(
                portion.label,
                f"{print_mass(portion.mass_mg)} at {print_fineness(portion.fine_ug, portion.mass_mg)}"
                f"{', a guess' if portion.is_guess else ''}",
                portion.origin,
            )
            for portion in portions
        ),
        Step("fine metal together", print_fine(fine_ug)),
        Step("mass together", print_mass(mass_mg)),
        Step(f"{print_fine(fine_ug)} ÷ {print_mass(mass_mg)} × 1000", printed),
        source=ALLOYING_SOURCE,
        notes=("Rounded down: a mark has no minus tolerance.", *_tell_guess(portions)),
    )
    return fineness, working


def _tell_guess(portions: Sequence[Portion]) -> tuple[str, ...]:
    least_ug, mass_mg = (
        sum(portion.least_ug for portion in portions),
        sum(portion.mass_mg for portion in portions),
    )
    if least_ug >= sum(portion.fine_ug for portion in portions):
        return ()
    least = print_fineness(least_ug, mass_mg)
    return (f"A guess is reckoned at its middle here; for a mark its low end counts, {least} of 1000.",)


def compute_raise(mass_mg: int, fine_ug: int, wanted_per_mille: int, finer_per_mille: int) -> Mend:
    """Finer metal to add to reach a fineness: m (f2 - f1) / (f3 - f2), rounded up so that it is reached."""
    short_ug = mass_mg * wanted_per_mille - fine_ug
    if short_ug <= 0:
        return Mend(problem="This metal is fine enough already: nothing need be added.")
    if finer_per_mille <= wanted_per_mille:
        return Mend(
            problem=f"Metal of {finer_per_mille} cannot bring a melt up to {wanted_per_mille}: "
            f"choose metal finer than {wanted_per_mille}."
        )
    gain_per_mille = finer_per_mille - wanted_per_mille
    add_mg = ceil(Fraction(short_ug, gain_per_mille))
    wanted = mass_mg * wanted_per_mille
    working = make_working(
        "Finer metal to add",
        "the fine metal that is missing, divided by what each gram of the finer metal brings over "
        "the fineness wanted",
        *_mend_givens(mass_mg, fine_ug, wanted_per_mille),
        _given_per_mille("the finer metal", finer_per_mille),
        Step(f"fine metal wanted: {print_mass(mass_mg)} × {wanted_per_mille} ÷ 1000", print_fine(wanted)),
        Step(f"missing: less the {print_fine(fine_ug)} that is in it", print_fine(short_ug)),
        Step(
            f"{print_fine(short_ug)} × 1000 ÷ ({finer_per_mille} − {wanted_per_mille})",
            print_mass(add_mg),
        ),
        source=ALLOYING_SOURCE,
        notes=("Rounded up to the milligram.", GUIDANCE),
    )
    return Mend(add_mg, working=working)


def compute_lower(mass_mg: int, fine_ug: int, wanted_per_mille: int) -> Mend:
    """Base metal to add to come down to a fineness: m (f1 - f2) / f2, rounded down so that it is kept."""
    if wanted_per_mille <= 0:
        return Mend(problem="Say which fineness is wanted, from 1 to 1000.")
    if fine_ug < mass_mg * wanted_per_mille:
        return Mend(
            problem=f"Adding base metal cannot raise {print_fineness(fine_ug, mass_mg)} "
            f"to {wanted_per_mille}: only finer metal can."
        )
    carries_mg = floor(Fraction(fine_ug, wanted_per_mille))
    add_mg = carries_mg - mass_mg
    working = make_working(
        "Base metal to add",
        "the mass that its fine metal is enough for, less the mass it has",
        *_mend_givens(mass_mg, fine_ug, wanted_per_mille),
        Step(f"{print_fine(fine_ug)} of fine metal × 1000 ÷ {wanted_per_mille}", print_mass(carries_mg)),
        Step(f"less {print_mass(mass_mg)}", print_mass(add_mg)),
        source=ALLOYING_SOURCE,
        notes=("Rounded down to the milligram.", GUIDANCE),
    )
    return Mend(add_mg, working=working)


def compute_mark(
    mass_mg: int, fine_ug: int, mark_per_mille: int, finer_per_mille: int = PER_MILLE_WHOLE
) -> MarkVerdict:
    """Say whether metal reaches a mark; if it does not, how much fine metal it lacks and what would mend it.

    No minus tolerance: one microgram short is short. Raises ValueError when there is no mass.
    """
    compute_fineness(fine_ug, mass_mg)
    missing_ug = max(0, mass_mg * mark_per_mille - fine_ug)
    mend = compute_raise(mass_mg, fine_ug, mark_per_mille, finer_per_mille)
    add_mg = mend.add_mg if mend.working else None
    sentence = f"Its fineness is {print_fineness(fine_ug, mass_mg)}: it reaches {mark_per_mille}."
    # Shown rounded up: metal that is short by a microgram must not read as short by nothing.
    missing = print_fine(-(-missing_ug // UG_PER_MG) * UG_PER_MG)
    if missing_ug:
        sentence = f"Its fineness is {print_fineness(fine_ug, mass_mg)}: "
        sentence += f"{missing} of fine metal too little for {mark_per_mille}."
    if add_mg is not None:
        sentence += f" Add {print_mass(add_mg)} of metal of {finer_per_mille}."
    working = make_working(
        f"Does it reach {mark_per_mille}?",
        "the fine metal it holds, against its mass times the mark",
        *_mend_givens(mass_mg, fine_ug, mark_per_mille),
        Step("fine metal in it", print_fine(fine_ug)),
        Step(f"{print_mass(mass_mg)} × {mark_per_mille} ÷ 1000", print_fine(mass_mg * mark_per_mille)),
        Step("fine metal missing", missing),
        *(mend.working.steps[-1:] if mend.working else ()),
        result=sentence,
        source=MARK_SOURCE,
        notes=(GUIDANCE,),
    )
    return MarkVerdict(not missing_ug, missing_ug, add_mg, sentence, working)


def compute_highest_mark(mass_mg: int, fine_ug: int, marks_per_mille: Iterable[int]) -> int | None:
    """The finest of some marks that metal reaches in full; None when it reaches none."""
    return max((mark for mark in marks_per_mille if fine_ug >= mass_mg * mark), default=None)


def is_exempt_by_weight(metal: str, mass_mg: int) -> bool:
    """Lighter than the weight from which an article of this metal ("silver"...) is hallmarked (guidance)."""
    return mass_mg < EXEMPT_BELOW_MG.get(metal, 0)


def compute_blend_melts_milli(portions: Sequence[tuple[int, int]]) -> int:
    """Melts (thousandths) after the pour of (mass_mg, melts_milli) portions: their mean by mass, and one more.

    Raises ValueError when there is no mass.
    """
    return compute_mean_melts_milli(portions) + MELTS_MILLI_PER_MELT


def compute_mean_melts_milli(portions: Sequence[tuple[int, int]]) -> int:
    """The mean by mass of the melts (thousandths) of (mass_mg, melts_milli) portions; ValueError for no mass."""
    mass_mg = sum(mass for mass, _ in portions)
    if mass_mg <= 0:
        raise ValueError("no metal was melted")
    return round_half_up(Fraction(sum(mass * melts for mass, melts in portions), mass_mg))


def compute_melts_after(portions: Sequence[Portion]) -> tuple[int, Working]:
    """Melts (thousandths) of what leaves the crucible, with its working."""
    after_milli = compute_blend_melts_milli([(portion.mass_mg, portion.melts_milli) for portion in portions])
    mean_milli = after_milli - MELTS_MILLI_PER_MELT
    mean = print_decimal(mean_milli, 3, most=3)
    mass_mg = sum(portion.mass_mg for portion in portions)
    grams_times_melts = print_decimal(
        sum(portion.mass_mg * portion.melts_milli for portion in portions), 6, most=6
    )
    working = make_working(
        "Melts of this metal",
        "the mean of the portions by mass, and one for this melt",
        *(
            Given(
                portion.label,
                f"{print_mass(portion.mass_mg)}, {print_melts(portion.melts_milli, 3)}",
                portion.origin,
            )
            for portion in portions
        ),
        Step("grams times melts, all added up", grams_times_melts),
        Step(f"mean by mass: {grams_times_melts} ÷ {print_mass(mass_mg)}", mean),
        Step(f"{mean} + 1", print_melts(after_milli, 3)),
        result=print_melts(after_milli),
    )
    return after_milli, working


def _mend_givens(mass_mg: int, fine_ug: int, wanted_per_mille: int) -> tuple[Given, ...]:
    metal = f"{print_mass(mass_mg)} at {print_fineness(fine_ug, mass_mg)}"
    return (
        Given("the metal", metal, "the lots it comes from"),
        _given_per_mille("the fineness wanted", wanted_per_mille),
    )


def _given_per_mille(label: str, per_mille: int) -> Given:
    return Given(label, f"{per_mille} of 1000", "typed here")
