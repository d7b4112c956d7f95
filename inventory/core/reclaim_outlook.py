"""What follows from how much may go back: what it saves, and what a charge past the studio's own rule would be."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from studio.kit.printing import print_day, print_mass, print_melts, print_money, print_percent
from studio.kit.units import divide_half_up
from studio.kit.working import Given, Step, Working, make_working

from .alloying import compute_blend_melts_milli
from .charge import ChargeRules
from .reclaim import MetalLot, ReclaimAllowance
from .weighing import compute_share_pct100


@dataclass(frozen=True, slots=True)
class PricePaid:
    """What fresh metal of an alloy last cost to have here: so much for so many milligrams, on a day."""

    cost_micro: int
    mass_mg: int
    day: date
    lot: int


def compute_saving(take_mg: int, paid: PricePaid) -> tuple[int, Working]:
    """Millionths of the currency that so much reclaim saves, at the price last paid; rounded once."""
    saved_micro = divide_half_up(take_mg * paid.cost_micro, paid.mass_mg)
    money = print_money
    working = make_working(
        "What it saves against buying fresh",
        "the reclaim that may go in, times what fresh metal of the alloy cost last, carriage with it",
        Given("reclaim that may go in", print_mass(take_mg), "the next charge"),
        Given(
            f"{print_mass(paid.mass_mg)} of fresh metal",
            money(paid.cost_micro),
            f"lot {paid.lot}, {print_day(paid.day, with_year=True)}",
        ),
        Step(
            f"{print_mass(take_mg)} × {money(paid.cost_micro)} ÷ {print_mass(paid.mass_mg)}",
            money(saved_micro),
        ),
        notes=("What the reclaim itself cost is paid already, whether it is used or not.",),
    )
    return saved_micro, working


@dataclass(frozen=True, slots=True)
class PastRule:
    """A usual charge filled up with reclaim: milligrams of both, its fresh share, and its melts after the pour."""

    fresh_mg: int
    reclaim_mg: int
    fresh_pct100: int
    melts_milli: int


def compute_past_rule(
    lots: Sequence[MetalLot], allowance: ReclaimAllowance, rules: ChargeRules, step_mg: int = 1
) -> PastRule | None:
    """What the next charge would be past the studio's rule; None where the rule leaves a usual charge whole.

    All the fresh metal goes in, then what was melted least. Lots at the limit of melts stay out even so.
    """
    if not allowance.is_short or allowance.charge_mg is None:
        return None
    left_mg = allowance.charge_mg - allowance.fresh_mg
    portions = [(allowance.fresh_mg, 0)]
    clean = (lot for lot in lots if lot.is_clean and not lot.is_fresh and not rules.is_tired(lot.melts_milli))
    for lot in sorted(clean, key=lambda lot: (lot.melts_milli, lot.key)):
        mass_mg = min(lot.weighable_mg(step_mg), left_mg)
        portions.append((mass_mg, lot.melts_milli))
        left_mg -= mass_mg
    total_mg = sum(mass_mg for mass_mg, _ in portions)
    if total_mg <= 0:
        return None
    share = compute_share_pct100(allowance.fresh_mg, total_mg) or 0
    return PastRule(
        allowance.fresh_mg, total_mg - allowance.fresh_mg, share, compute_blend_melts_milli(portions)
    )


def say_past_rule(past: PastRule, allowance: ReclaimAllowance, rules: ChargeRules) -> str:
    """The offer, and what follows from it. Nothing stops the person who takes it."""
    charge = print_mass(allowance.charge_mg or 0)
    return (
        f"A usual charge of {charge} asks for {print_mass(allowance.fresh_needed_mg)} of fresh metal by your rule, and "
        f"{print_mass(past.fresh_mg)} is there. You may go past it: with {print_mass(past.reclaim_mg)} of reclaim the "
        f"charge would be {print_percent(past.fresh_pct100)} fresh, and have had {print_melts(past.melts_milli)} after "
        "the pour. Metal that was melted more often tends to be more porous (common practice): "
        "look the castings over. What comes back of it has the more melts, and its turn at the refiner comes sooner."
    )
