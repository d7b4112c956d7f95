"""Whether something in the record of casts goes with failed ones, and how sure that is where many things are looked at.

It tells what goes together, never what caused what.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from studio.kit.working import Given, Step, Working, make_working

from .control_chart import LEAST_CASTS
from .odds import Odds, Split, compute_chance, compute_odds, print_chance

HOLM = "S. Holm 1979, a simple sequentially rejective multiple test procedure (from memory)"

UNLIKELY = Fraction(1, 20)


class Sure(StrEnum):
    """How sure it is that something goes with failed casts, in words that fit after its name and a colon."""

    CLEAR = "goes with failed casts, hardly by chance"
    MAYBE = "may go with failed casts; of so many looked at, one may seem so by chance"
    WEAK = "more failed with it, as chance alone may well bring about"
    NO_MORE = "no more failed with it than without"
    FEWER = "fewer failed with it, hardly by chance"
    NEVER = "no cast had it"
    TOO_FEW = "too few to tell"


@dataclass(frozen=True, slots=True)
class Finding:
    """What casts say of one thing in their record; without figures where they are too few to tell."""

    split: Split
    looked_at: int = 0
    chance: Fraction | None = None
    corrected: Fraction | None = None
    odds: Odds | None = None
    workings: tuple[Working, ...] = ()

    @property
    def sure(self) -> Sure:
        if self.chance is None or self.corrected is None:
            is_never = self.split.count >= LEAST_CASTS and not self.split.cases
            return Sure.NEVER if is_never else Sure.TOO_FEW
        if not self.is_more:
            return Sure.FEWER if self.corrected <= UNLIKELY else Sure.NO_MORE
        if self.corrected <= UNLIKELY:
            return Sure.CLEAR
        return Sure.MAYBE if self.chance <= UNLIKELY else Sure.WEAK

    @property
    def is_more(self) -> bool:
        """Whether more failed with it than without, casts for casts."""
        split = self.split
        return split.failed_with * split.good_without > split.good_with * split.failed_without

    @property
    def rank(self) -> tuple[int, Fraction, Fraction]:
        """What goes most surely with failed casts comes first, what tells nothing last."""
        if self.chance is None or self.corrected is None:
            return 2, Fraction(0), Fraction(-self.split.cases)
        return int(not self.is_more), self.corrected, self.chance


def compute_findings(splits: Mapping[str, Split]) -> dict[str, Finding]:
    """What casts say of each thing, by its name, in the order given.

    What too few casts tell of is not looked at, so it does not weigh on the others.
    """
    told = {name: compute_chance(split) for name, split in splits.items() if split.tells}
    corrected = dict(zip(told, correct_chances([chance for chance, _ in told.values()]), strict=True))
    findings = {}
    for name, split in splits.items():
        if name not in told:
            findings[name] = Finding(split)
            continue
        (chance, working), odds = told[name], compute_odds(split)
        workings = odds.working, working
        findings[name] = Finding(split, len(told), chance, corrected[name], odds, workings)
    return findings


def correct_chances(chances: Sequence[Fraction]) -> list[Fraction]:
    """Chances corrected for looking at so many, in the order given: the least times all, the next times one less."""
    corrected, above = [Fraction(1)] * len(chances), Fraction(0)
    for rank, place in enumerate(sorted(range(len(chances)), key=lambda place: chances[place])):
        above = max(above, min(Fraction(1), (len(chances) - rank) * chances[place]))
        corrected[place] = above
    return corrected


def work_correction(findings: Mapping[str, Finding]) -> Working | None:
    """How the chances were corrected, smallest first; None where fewer than two were looked at."""
    told = [(one.chance, one.corrected, name) for name, one in findings.items() if one.chance is not None]
    if len(told) < 2:
        return None
    steps = []
    for rank, (chance, corrected, name) in enumerate(sorted(told)):
        times = len(told) - rank
        product = chance * times
        how = f"{name}: {print_chance(chance, 4)} × {times}"
        if product > 1:
            how = f"{name}, {print_chance(chance, 4)} by {times}: no more than all"
        elif corrected != product:
            how = f"{name}, {print_chance(chance, 4)} by {times}: no less than the one before"
        steps.append(Step(how, print_chance(corrected or chance)))
    return make_working(
        "Corrected for looking at many",
        "the least chance times the factors looked at, the next times one less, and so on; none below the one before",
        Given("factors looked at", str(len(told)), "those that casts enough tell of"),
        *steps,
        result=f"{len(told)} looked at",
        source=HOLM,
    )
