"""Metal in the findings of a piece: ear wires, a bail, a length of chain. It counts as fine metal beside what was cast.

Masses are milligrams, fine metal micrograms, fineness parts per thousand.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

MARK_SOURCE = "Hallmarking Act 1973, s. 1 and Schedule 2 (from memory): every part of an article of one metal"


@dataclass(frozen=True, slots=True)
class FindingMetal:
    """What of one kind of finding was put on a piece."""

    name: str
    metal: str
    fineness: int
    mass_mg: int

    @property
    def fine_ug(self) -> int:
        return self.mass_mg * self.fineness


def weigh_finding(unit: str, quantity: int, item_mg: int | None) -> int:
    """The grams in so many of a finding, in milligrams: one that is weighed is its own mass."""
    return quantity if unit == "mass" else quantity * (item_mg or 0)


def add_fine(fine_ug: int, metal: str, findings: Iterable[FindingMetal]) -> int:
    """The fine metal of a piece with its findings of the same precious metal."""
    return fine_ug + sum(one.fine_ug for one in findings if one.metal == metal)


def tell_findings(mark: int, metal: str, findings: Sequence[FindingMetal]) -> str:
    """That a mark counts for the whole, where a finding is of less, or of another metal; "" where none is."""
    lower = [one for one in findings if one.metal == metal and one.fineness < mark]
    others = [one for one in findings if one.metal != metal]
    said = [f"Its {one.name} are of {one.fineness}: with them it may not be marked {mark}." for one in lower]
    said += [
        f"Its {one.name} are of {one.metal}: ask your assay office how it is marked then." for one in others
    ]
    return " ".join(said)
