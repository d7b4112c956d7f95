"""How the metal of a piece came to cost what it costs: its share of the charge, by mass.

Masses are milligrams, costs millionths of the currency.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from studio.kit.printing import print_mass, print_money
from studio.kit.working import Given, Step, Working, make_working

from .alloying import EXEMPT_BELOW_MG, GUIDANCE, MARKS_PER_MILLE, compute_highest_mark, is_exempt_by_weight
from .findings import FindingMetal, tell_findings
from .fineness import Known, print_ppm

SHARE_SOURCE = "the studio's own ledger: cost follows the gram"

_NUMBER = re.compile(r" \d+$")


TITLE_MAX = 120


def name_without_number(name: str) -> str:
    """ "Larch cone charm" of "Larch cone charm 2": castings of one pattern that were weighed together are numbered."""
    return _NUMBER.sub("", name)


def name_castings(castings: Iterable[tuple[str, int]]) -> str:
    """ "4 × Fern leaf, Seed pod": a title made of (name, count) of what is cast."""
    title = ", ".join(f"{count} × {name}" if count > 1 else name for name, count in castings)
    return title if len(title) <= TITLE_MAX else f"{title[: TITLE_MAX - 1].rstrip()}…"


@dataclass(frozen=True, slots=True)
class PieceMetal:
    """What the metal of a piece cost, and the sum behind it."""

    cost_micro: int
    working: Working


def explain_piece_metal(
    charge_mg: int, charge_micro: int, as_cast_mg: int, as_cast_micro: int, now_mg: int, now_micro: int
) -> PieceMetal:
    """Lay out what the ledger booked for a piece: its share of the charge, less what finishing took off.

    The booked figures are shown, not reckoned again: shares are cut so that all of them make the whole, so one
    may differ from the plain sum by a millionth.
    """
    steps = [
        Step(
            f"{print_money(charge_micro, 4)} × {print_mass(as_cast_mg)} ÷ {print_mass(charge_mg)}",
            print_money(as_cast_micro, 4),
        )
    ]
    givens = [
        Given("cost of the charge", print_money(charge_micro, 4), "what its lots cost"),
        Given("the charge", print_mass(charge_mg), "weighed"),
        Given("the piece as cast", print_mass(as_cast_mg), "weighed"),
    ]
    if now_mg != as_cast_mg:
        givens.append(Given("the piece after finishing", print_mass(now_mg), "weighed"))
        steps.append(
            Step(
                f"less filings and loss: {print_money(as_cast_micro, 4)} × {print_mass(now_mg)} ÷ "
                f"{print_mass(as_cast_mg)}",
                print_money(now_micro, 4),
            )
        )
    working = make_working(
        "Metal in the piece, at what it cost",
        "the cost of the charge times the mass of the piece, divided by the mass of the charge",
        *givens,
        *steps,
        result=print_money(now_micro, 4),
        source=SHARE_SOURCE,
        notes=("What filing took off carries its own share of the cost to the filings, or to what is lost.",),
    )
    return PieceMetal(now_micro, working)


def tell_mark(metal: str, charge: Known, piece_mg: int, findings: Sequence[FindingMetal] = ()) -> str:
    """Which mark a piece of "silver", "gold"... may carry, by its charge, and whether it is asked for by weight.

    It may carry none while the fineness of any of the charge is a guess; else the least that it may hold counts.
    Its findings must reach the mark as well. "" for metal without a precious one. Marks and weights are those of the
    United Kingdom, as guidance.
    """
    marks = MARKS_PER_MILLE.get(metal, ())
    if not marks or not charge.mass_mg:
        return ""
    if charge.is_guess:
        low_ppm, high_ppm = charge.ends_ppm
        between = ""
        if low_ppm is not None and high_ppm is not None:
            between = f", somewhere from {print_ppm(low_ppm)} to {print_ppm(high_ppm)} of 1000"
        return (
            f"Its fineness is not known well enough to mark{between}: some of its metal was never proved. "
            f"Have it assayed before it is sold as {metal}. {GUIDANCE}"
        )
    mark = compute_highest_mark(charge.mass_mg, charge.least_ug, marks)
    said = f"Its metal may be marked {mark}." if mark else f"Its metal reaches none of the marks of {metal}."
    if mark and is_exempt_by_weight(metal, piece_mg):
        least = print_mass(EXEMPT_BELOW_MG[metal])
        said += (
            f" In the United Kingdom {metal} of less than {least} need not be, but must reach its fineness."
        )
    elif mark:
        said += f" In the United Kingdom it must be marked by an assay office before it is sold as {metal}."
    if mark and (told := tell_findings(mark, metal, findings)):
        said += f" {told}"
    return f"{said} {GUIDANCE}"
