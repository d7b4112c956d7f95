"""How far a scale can be trusted, and whether grams add up within that."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from math import isqrt

from studio.kit.printing import print_decimal, print_mass, print_percent
from studio.kit.units import PCT100_WHOLE, round_half_up
from studio.kit.working import Given, Step, Working, make_working, origin_of

WEIGHING_SOURCE = "NIST Technical Note 1297; Guide to the Expression of Uncertainty in Measurement"
COVERAGE = 2


class Verdict(StrEnum):
    """What a crucible's grams say."""

    BALANCED = "balanced"
    LOST = "lost"
    MORE_OUT = "more out than the scale can explain"


@dataclass(frozen=True, slots=True)
class WeighingUncertainty:
    """How well a sum of weighings is known: one and two standard uncertainties, in milligrams.

    `tolerance_mg` is the expanded uncertainty rounded up to a whole milligram.
    """

    standard_mg: Decimal
    expanded_mg: Decimal
    tolerance_mg: int
    working: Working


def compute_weighing_uncertainty(division_mg: int, count: int) -> WeighingUncertainty:
    """Uncertainty of a sum of `count` weighings, each known to one division of the scale either way.

    Each weighing may be anywhere within that span alike (rectangular), so its standard uncertainty is the
    division over the square root of 3; those of the sum add by their squares; k = 2.
    """
    if division_mg < 0 or count < 0:
        raise ValueError("a scale's division and a count of weighings are not below zero")
    square = Decimal(division_mg * division_mg * count) / 3
    standard_mg = square.sqrt()
    tolerance_mg = _root_rounded_up(COVERAGE * COVERAGE * division_mg * division_mg * count, 3)
    each = (Decimal(division_mg * division_mg) / 3).sqrt()
    working = make_working(
        "What the scale cannot show",
        "the division of the scale, divided by the square root of 3, times the square root of the number "
        "of weighings, times 2",
        Given("division of the scale", print_mass(division_mg), origin_of(division_mg)),
        Given("weighings", str(count), "counted from what was weighed"),
        Step(f"one weighing: {print_mass(division_mg)} ÷ {_root_of(3)}", _fine_grams(each)),
        Step(
            f"all {count}: {print_mass(division_mg)} × {_root_of(count)} ÷ {_root_of(3)}",
            _fine_grams(standard_mg),
        ),
        Step(
            f"rounded up to the milligram: {COVERAGE} × {_fine_grams(standard_mg)}",
            print_mass(tolerance_mg),
        ),
        source=WEIGHING_SOURCE,
    )
    return WeighingUncertainty(standard_mg, COVERAGE * standard_mg, tolerance_mg, working)


def _root_rounded_up(numerator: int, denominator: int) -> int:
    """The smallest whole number whose square is at least numerator / denominator."""
    root = isqrt(numerator // denominator)
    return root if denominator * root * root >= numerator else root + 1


def _root_of(count: int) -> str:
    return print_decimal(round_half_up(Decimal(count).sqrt() * 10**6), 6, most=6)


def _fine_grams(milligrams: Decimal) -> str:
    return print_decimal(round_half_up(milligrams * 1000), 6, most=6, least=4) + "\u00a0g"


def compute_share_pct100(part: int, whole: int) -> int | None:
    """`part` of `whole` in hundredths of a per cent; None when there is no whole."""
    return round_half_up(Fraction(part * PCT100_WHOLE, whole)) if whole > 0 else None


@dataclass(frozen=True, slots=True)
class CrucibleBalance:
    """Where the grams of a charge are: pieces, back (button, sprues), filings (and spill), or lost."""

    charge_mg: int
    pieces_mg: int
    back_mg: int
    filings_mg: int
    lost_mg: int
    tolerance_mg: int
    verdict: Verdict
    working: Working

    @property
    def lost_of_charge_pct100(self) -> int | None:
        return compute_share_pct100(self.lost_mg, self.charge_mg)

    @property
    def yield_pct100(self) -> int | None:
        """Mass of the pieces over mass of the charge."""
        return compute_share_pct100(self.pieces_mg, self.charge_mg)


def compute_balance(
    charge_mg: int, pieces_mg: int, back_mg: int, filings_mg: int, uncertainty: WeighingUncertainty
) -> CrucibleBalance:
    """Balance a crucible: what went in less all that came out is lost, and judged against the scale.

    A difference of just the tolerance still counts as balanced: the scale cannot show it.
    """
    lost_mg = charge_mg - pieces_mg - back_mg - filings_mg
    tolerance_mg = uncertainty.tolerance_mg
    verdict = Verdict.BALANCED
    if lost_mg > tolerance_mg:
        verdict = Verdict.LOST
    elif lost_mg < -tolerance_mg:
        verdict = Verdict.MORE_OUT
    came, out = " + ".join(map(print_mass, (pieces_mg, back_mg, filings_mg))), print_mass(charge_mg - lost_mg)
    share = print_percent(compute_share_pct100(lost_mg, charge_mg))
    working = make_working(
        "Where the charge went",
        "the charge, less pieces, less button and sprues, less filings and spill, is what was lost",
        Given("charge", print_mass(charge_mg), "weighed"),
        Given("pieces", print_mass(pieces_mg), "weighed"),
        Given("button and sprues", print_mass(back_mg), "weighed"),
        Given("filings and spill", print_mass(filings_mg), "weighed"),
        Given("what the scale cannot show", print_mass(tolerance_mg), "from the scale and the weighings"),
        Step(f"came out together: {came}", out),
        Step(f"{print_mass(charge_mg)} − {out}", print_mass(lost_mg)),
        Step(f"of the charge: {print_mass(lost_mg)} ÷ {print_mass(charge_mg)}", share),
        result=f"{print_mass(lost_mg)}: {verdict.value}",
        source=WEIGHING_SOURCE,
        notes=_verdict_notes(verdict),
    )
    return CrucibleBalance(charge_mg, pieces_mg, back_mg, filings_mg, lost_mg, tolerance_mg, verdict, working)


def _verdict_notes(verdict: Verdict) -> tuple[str, ...]:
    if verdict is Verdict.LOST:
        return ("More than the scale can hide: this metal is really gone.",)
    if verdict is Verdict.MORE_OUT:
        return ("Weigh again: more came out than went in.",)
    return ("No more than the scale can show over so many weighings.",)
