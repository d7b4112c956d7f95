"""Reclaim by kind: which of it may be melted as it is, and how much of what was weighed is metal.

The book keeps what the scale showed. What of that is metal is not known before it was cleaned or refined: so the share
moves no gram, and tells only what a refiner's melt of it may be expected to weigh.
"""

from dataclasses import dataclass

from studio.kit.printing import print_fine, print_mass, print_percent
from studio.kit.units import PCT100_WHOLE, divide_half_up
from studio.kit.working import Given, Step, Working, make_working, origin_of


@dataclass(frozen=True, slots=True)
class KindRule:
    """One kind of reclaim: whether it may go in the pot as it is, and the metal in it in hundredths of a per cent."""

    kind: str
    may_melt: bool
    metal_pct100: int

    @property
    def is_all_metal(self) -> bool:
        return self.metal_pct100 == PCT100_WHOLE

    def expect(self, amount: int) -> int:
        """What of a weight, or of fine metal in the book, is to be expected, in the same unit and rounded once."""
        return divide_half_up(amount * self.metal_pct100, PCT100_WHOLE)


@dataclass(frozen=True, slots=True)
class ExpectedMetal:
    """What of a weight is expected to be metal: milligrams, and micrograms fine."""

    mass_mg: int
    fine_ug: int
    working: Working


def compute_expected_metal(gross_mg: int, fine_ug: int, rule: KindRule) -> ExpectedMetal:
    """What is left of `gross_mg` once everything that is no metal is gone, and the fine metal in that, rounded once.

    `fine_ug` is what the book counts in the whole weight.
    """
    mass_mg, expected_ug = rule.expect(gross_mg), rule.expect(fine_ug)
    share = print_percent(rule.metal_pct100)
    steps = [Step(f"metal: {print_mass(gross_mg)} × {share}", print_mass(mass_mg))]
    if fine_ug:
        steps.append(Step(f"fine metal: {print_fine(fine_ug)} × {share}", print_fine(expected_ug)))
    working = make_working(
        "Metal to be expected of it",
        "what was weighed, times the share of such reclaim that is metal",
        Given("weighed", print_mass(gross_mg), "the stock"),
        *((Given("fine metal in the book", print_fine(fine_ug), "the stock"),) if fine_ug else ()),
        Given("metal in it", share, origin_of(rule.metal_pct100)),
        *steps,
        notes=("The book keeps what was weighed until it is cleaned or refined.",),
    )
    return ExpectedMetal(mass_mg, expected_ug, working)
