"""How much clean reclaim the next charge may take, and which rule stops it there.

Masses are milligrams, the least fresh share is hundredths of a per cent, melts are thousandths.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from studio.kit.printing import print_mass, print_melts, print_percent
from studio.kit.units import PCT100_WHOLE, round_half_up
from studio.kit.working import Given, Source, Step, Working


class Bound(StrEnum):
    """What keeps more reclaim out of the next charge."""

    ON_HAND = "all clean reclaim on hand may go in"
    MELTS = "the rest has been melted as often as it may be"
    CHARGE = "a usual charge needs its share of fresh metal"
    FRESH = "there is only so much fresh metal on hand"


@dataclass(frozen=True, slots=True)
class MetalLot:
    """A lot of one alloy. Fresh metal was never melted here; clean reclaim is buttons and sprues."""

    key: int
    label: str
    mass_mg: int
    melts_milli: int = 0
    is_fresh: bool = False
    is_clean: bool = True


@dataclass(frozen=True, slots=True)
class ReclaimRules:
    """The studio's own rules: `most_melts_milli` 0 sets no limit."""

    least_fresh_pct100: int
    most_melts_milli: int = 0


@dataclass(frozen=True, slots=True)
class ReclaimAllowance:
    """Clean reclaim on hand, what of it may be melted again, and what the next charge may take.

    `charge_mg` is the size of charge that was reckoned with, None when no charge was poured yet. `left_out`
    are the keys of lots at the limit of melts.
    """

    on_hand_mg: int
    usable_mg: int
    may_take_mg: int
    bound: Bound
    charge_mg: int | None
    left_out: tuple[int, ...]
    working: Working


def compute_reclaim_allowance(
    lots: Sequence[MetalLot], rules: ReclaimRules, recent_charges_mg: Sequence[int]
) -> ReclaimAllowance:
    """What the next charge of one alloy may take of its clean reclaim.

    A lot at the limit of melts or over it is left out: the pour would take it beyond. The charge is the
    mean of recent ones; with none, only the fresh metal on hand sets a limit. Rounded down.
    """
    clean = [lot for lot in lots if lot.is_clean and not lot.is_fresh]
    limit = rules.most_melts_milli
    tired = [lot for lot in clean if limit and lot.melts_milli >= limit]
    on_hand_mg = sum(lot.mass_mg for lot in clean)
    usable_mg = on_hand_mg - sum(lot.mass_mg for lot in tired)
    fresh_mg = sum(lot.mass_mg for lot in lots if lot.is_fresh)
    charge_mg = None
    if recent_charges_mg:
        charge_mg = round_half_up(Fraction(sum(recent_charges_mg), len(recent_charges_mg)))
    by_charge_mg, by_fresh_mg = _limits(rules.least_fresh_pct100, charge_mg, fresh_mg)
    may_take_mg = min(mass for mass in (usable_mg, by_charge_mg, by_fresh_mg) if mass is not None)
    bound = Bound.ON_HAND if not any(lot.mass_mg for lot in tired) else Bound.MELTS
    if may_take_mg < usable_mg:
        bound = Bound.CHARGE if may_take_mg == by_charge_mg else Bound.FRESH
    steps = [Step("clean reclaim on hand", print_mass(on_hand_mg))]
    if tired:
        steps.append(Step("of it not melted too often", print_mass(usable_mg)))
    steps += _limit_steps(rules.least_fresh_pct100, charge_mg, fresh_mg)
    steps.append(Step("the least of these", print_mass(may_take_mg)))
    working = _work_allowance(lots, rules, charge_mg, len(recent_charges_mg), steps, bound)
    return ReclaimAllowance(
        on_hand_mg=on_hand_mg,
        usable_mg=usable_mg,
        may_take_mg=may_take_mg,
        bound=bound,
        charge_mg=charge_mg,
        left_out=tuple(lot.key for lot in tired),
        working=working,
    )


def _limits(least_fresh_pct100: int, charge_mg: int | None, fresh_mg: int) -> tuple[int | None, int | None]:
    """Reclaim that fits a usual charge, and that the fresh metal on hand can go with; None for no limit."""
    rest_pct100 = PCT100_WHOLE - least_fresh_pct100
    by_charge_mg = None if charge_mg is None else charge_mg * rest_pct100 // PCT100_WHOLE
    by_fresh_mg = fresh_mg * rest_pct100 // least_fresh_pct100 if least_fresh_pct100 else None
    return by_charge_mg, by_fresh_mg


def _limit_steps(least_fresh_pct100: int, charge_mg: int | None, fresh_mg: int) -> list[Step]:
    by_charge_mg, by_fresh_mg = _limits(least_fresh_pct100, charge_mg, fresh_mg)
    rest = print_percent(PCT100_WHOLE - least_fresh_pct100)
    steps = []
    if charge_mg is not None:
        steps.append(Step(f"in a usual charge: {rest} of {print_mass(charge_mg)}", print_mass(by_charge_mg)))
    if by_fresh_mg is not None:
        text = (
            f"beside the fresh metal: {print_mass(fresh_mg)} × {rest} ÷ {print_percent(least_fresh_pct100)}"
        )
        steps.append(Step(text, print_mass(by_fresh_mg)))
    return steps


def _work_allowance(
    lots: Sequence[MetalLot],
    rules: ReclaimRules,
    charge_mg: int | None,
    charges: int,
    steps: list[Step],
    bound: Bound,
) -> Working:
    givens = [
        Given(lot.label, f"{print_mass(lot.mass_mg)}, {_say_state(lot)}", "the stock")
        for lot in lots
        if lot.is_fresh or lot.is_clean
    ]
    givens.append(Given("at least to be fresh", print_percent(rules.least_fresh_pct100), Source.OWN_SETTING))
    if rules.most_melts_milli:
        givens.append(Given("at most", print_melts(rules.most_melts_milli), Source.OWN_SETTING))
    if charge_mg is not None:
        mean_of = "the last charge" if charges == 1 else f"the mean of the last {charges} charges"
        givens.append(Given("a usual charge", print_mass(charge_mg), mean_of))
    notes = [bound.value.capitalize() + "."]
    if charge_mg is None:
        notes.append("No charge was poured yet, so only the metal on hand sets a limit.")
    if any(not lot.is_clean for lot in lots):
        notes.append("Filings and spill are not counted: they go to be refined.")
    return Working(
        title="Reclaim for the next charge",
        formula="clean reclaim that may be melted again, but no more than leaves the least fresh share",
        givens=tuple(givens),
        steps=tuple(steps),
        result=steps[-1].result,
        source=Source.OWN_SETTING,
        notes=tuple(notes),
    )


def _say_state(lot: MetalLot) -> str:
    return "fresh" if lot.is_fresh else print_melts(lot.melts_milli)
