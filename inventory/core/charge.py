"""What a charge comes to before it is poured: its mass, fineness, mark, share of fresh metal and melts.

Masses are milligrams, fine metal micrograms, shares hundredths of a per cent, melts thousandths.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from studio.kit.printing import print_fineness, print_mass, print_melts, print_percent
from studio.kit.units import MELTS_MILLI_PER_MELT, PCT100_WHOLE
from studio.kit.working import Given, Step, Working, make_working, origin_of

from .alloying import (
    MarkVerdict,
    Portion,
    compute_charge_fineness,
    compute_mark,
    compute_melts_after,
)
from .weighing import compute_share_pct100


@dataclass(frozen=True, slots=True)
class ChargeRules:
    """What the metal is to be, and the studio's own rules for metal that was melted before.

    `most_melts_milli` 0 sets no limit. Whoever says what a charge may take asks these rules.
    """

    per_mille: int = 0
    least_fresh_pct100: int = 0
    most_melts_milli: int = 0

    @property
    def most_mean_melts_milli(self) -> int:
        """The mean of what goes in may be one melt below the limit; metal never melted may always go in."""
        return max(0, self.most_melts_milli - MELTS_MILLI_PER_MELT)

    @property
    def givens(self) -> tuple[Given, ...]:
        """The rules for metal that was melted before, for a working; the least share of fresh metal comes first."""
        fresh, melts = self.least_fresh_pct100, self.most_melts_milli
        least = Given("at least to be fresh", print_percent(fresh), origin_of(fresh))
        return (least, Given("at most", print_melts(melts), origin_of(melts))) if melts else (least,)

    def is_tired(self, melts_milli: int) -> bool:
        """Whether reclaim is at the limit of melts or over it, so that the next pour would take it beyond."""
        return bool(self.most_melts_milli) and melts_milli >= self.most_melts_milli

    def compute_fresh_needed_mg(self, total_mg: int) -> int:
        """The least fresh metal in so large a charge, rounded up."""
        return -(-total_mg * self.least_fresh_pct100 // PCT100_WHOLE)


@dataclass(frozen=True, slots=True)
class ChargeSums:
    """A charge added up. `fineness` and `mark` are None for metal that has no fineness to keep."""

    mass_mg: int
    fine_ug: int
    melts_milli: int
    fresh_pct100: int
    fineness: Working | None
    mark: MarkVerdict | None
    fresh: Working
    melts: Working
    remarks: tuple[str, ...]

    @property
    def falls_short(self) -> bool:
        return self.mark is not None and not self.mark.reaches


def compute_charge(portions: Sequence[Portion], rules: ChargeRules) -> ChargeSums:
    """Add up a charge and hold it against its mark and the studio's rules. Raises ValueError for no mass."""
    mass_mg = sum(portion.mass_mg for portion in portions)
    fine_ug = sum(portion.fine_ug for portion in portions)
    melts_milli, melts = compute_melts_after(portions)
    fresh_pct100, fresh = _compute_fresh_share(portions, mass_mg, rules)
    fineness = mark = None
    if rules.per_mille or fine_ug:
        _, fineness = compute_charge_fineness(portions)
    if rules.per_mille:
        # Each portion was rounded once to the microgram: that much is no shortfall.
        wanted_ug = mass_mg * rules.per_mille
        least_ug = sum(portion.least_ug for portion in portions)
        is_rounding = 0 < wanted_ug - least_ug <= len(portions)
        mark = compute_mark(mass_mg, wanted_ug if is_rounding else least_ug, rules.per_mille)
    return ChargeSums(
        mass_mg=mass_mg,
        fine_ug=fine_ug,
        melts_milli=melts_milli,
        fresh_pct100=fresh_pct100,
        fineness=fineness,
        mark=mark,
        fresh=fresh,
        melts=melts,
        remarks=(*_remark_guess(portions, mass_mg), *_remark(fresh_pct100, melts_milli, rules)),
    )


def _compute_fresh_share(
    portions: Sequence[Portion], mass_mg: int, rules: ChargeRules
) -> tuple[int, Working]:
    fresh_mg = sum(portion.mass_mg for portion in portions if portion.is_fresh)
    share_pct100 = compute_share_pct100(fresh_mg, mass_mg) or 0
    working = make_working(
        "Fresh metal in the charge",
        "the mass of the portions that were never melted here, divided by the mass of all portions",
        *(
            Given(
                portion.label,
                f"{print_mass(portion.mass_mg)}, {'fresh' if portion.is_fresh else 'melted before'}",
                portion.origin,
            )
            for portion in portions
        ),
        rules.givens[0],
        Step("fresh together", print_mass(fresh_mg)),
        Step(f"{print_mass(fresh_mg)} ÷ {print_mass(mass_mg)}", print_percent(share_pct100)),
    )
    return share_pct100, working


def _remark_guess(portions: Sequence[Portion], mass_mg: int) -> tuple[str, ...]:
    """What is not known of its fineness: its middle tells the value, its least is held against a mark."""
    if not any(portion.is_guess for portion in portions):
        return ()
    least_ug = sum(portion.least_ug for portion in portions)
    said = "Nobody has proved the fineness of some of it, so no mark is promised for what is cast of it."
    if least_ug < sum(portion.fine_ug for portion in portions):
        said += f" For a mark it is reckoned at the least that it may be, {print_fineness(least_ug, mass_mg)} of 1000."
    return (said,)


def _remark(fresh_pct100: int, melts_milli: int, rules: ChargeRules) -> tuple[str, ...]:
    remarks = []
    if fresh_pct100 < rules.least_fresh_pct100:
        remarks.append(
            f"Only {print_percent(fresh_pct100)} is fresh; the rule asks for "
            f"{print_percent(rules.least_fresh_pct100)}."
        )
    if rules.most_melts_milli and melts_milli > rules.most_melts_milli:
        remarks.append(
            f"After this pour it will have had {print_melts(melts_milli)}; the rule allows "
            f"{print_melts(rules.most_melts_milli)} before it is refined."
        )
    return tuple(remarks)
