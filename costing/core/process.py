"""The process account of a melt: what its good castings cost when some metal comes back and some is lost.

A normal loss is part of making the good castings; a loss beyond it is abnormal, costs what good castings
cost, and is set aside. Masses are milligrams, money millionths of the currency.
"""

from dataclasses import dataclass
from fractions import Fraction

from studio.kit.printing import print_mass, print_money, print_percent
from studio.kit.units import MG_PER_KG, PCT100_WHOLE, divide_half_up, round_half_up
from studio.kit.working import Given, Source, Step, Working

PROCESS_SOURCE = (
    "process costing as in ACCA F2, ch. 9; by-products by IAS 2, para. 14, abnormal loss para. 16"
)


def compute_normal_loss(charge_mg: int, lost_mg: int, normal_pct100: int) -> tuple[int, int]:
    """Split a loss into (normal_mg, abnormal_mg): normal is at most its share of the charge.

    A loss below zero, which is the scale's error, is all normal.
    """
    allowed_mg = round_half_up(Fraction(charge_mg * normal_pct100, PCT100_WHOLE))
    normal_mg = min(lost_mg, allowed_mg)
    return normal_mg, lost_mg - normal_mg


def compute_abnormal_value(net_micro: int, good_mg: int, abnormal_mg: int) -> int:
    """What an abnormal loss cost, at the price of a good gram: net x abnormal / (good + abnormal)."""
    if abnormal_mg <= 0:
        return 0
    return divide_half_up(net_micro * abnormal_mg, good_mg + abnormal_mg)


def compute_value_at_rate(mass_mg: int, micro_per_kg: int) -> int:
    """Worth of a mass at a price per kilogram."""
    return divide_half_up(mass_mg * micro_per_kg, MG_PER_KG)


@dataclass(frozen=True, slots=True)
class Melt:
    """One process: what went in at what cost, what came out good, what came back, and the rules.

    The loss is what is missing. Metal that came back is worth its cost unless `back_micro_per_kg` says
    otherwise; `scrap_micro_per_kg` is what can be had for the normal loss itself.
    """

    input_mg: int
    input_micro: int
    good_mg: int
    back_mg: int = 0
    normal_pct100: int = PCT100_WHOLE
    back_micro_per_kg: int | None = None
    scrap_micro_per_kg: int = 0

    @property
    def lost_mg(self) -> int:
        return self.input_mg - self.good_mg - self.back_mg


@dataclass(frozen=True, slots=True)
class ProcessAccount:
    """Where the cost of a melt went; good + abnormal + back + scrap is what went in, to the last unit."""

    good_micro: int
    abnormal_micro: int
    back_micro: int
    scrap_micro: int
    normal_mg: int
    abnormal_mg: int
    per_kg_micro: Fraction
    working: Working


def compute_process_account(melt: Melt) -> ProcessAccount:
    """Value good castings and abnormal loss alike, after metal that came back and scrap are credited.

    Raises ValueError when nothing is left to carry the cost.
    """
    normal_mg, abnormal_mg = compute_normal_loss(melt.input_mg, melt.lost_mg, melt.normal_pct100)
    carrying_mg = melt.good_mg + abnormal_mg
    if carrying_mg <= 0:
        raise ValueError("neither good castings nor abnormal loss to carry the cost")
    if melt.back_micro_per_kg is None:
        back_micro = divide_half_up(melt.input_micro * melt.back_mg, melt.input_mg)
    else:
        back_micro = compute_value_at_rate(melt.back_mg, melt.back_micro_per_kg)
    scrap_micro = compute_value_at_rate(max(normal_mg, 0), melt.scrap_micro_per_kg)
    net_micro = melt.input_micro - back_micro - scrap_micro
    abnormal_micro = compute_abnormal_value(net_micro, melt.good_mg, abnormal_mg)
    return ProcessAccount(
        good_micro=net_micro - abnormal_micro,
        abnormal_micro=abnormal_micro,
        back_micro=back_micro,
        scrap_micro=scrap_micro,
        normal_mg=normal_mg,
        abnormal_mg=abnormal_mg,
        per_kg_micro=Fraction(net_micro * MG_PER_KG, carrying_mg),
        working=_work_account(melt, back_micro, scrap_micro, normal_mg, abnormal_micro),
    )


def _work_account(
    melt: Melt, back_micro: int, scrap_micro: int, normal_mg: int, abnormal_micro: int
) -> Working:
    net_micro = melt.input_micro - back_micro - scrap_micro
    abnormal_mg = melt.lost_mg - normal_mg
    good = print_money(net_micro - abnormal_micro, 4)
    back_rule = "at what it cost" if melt.back_micro_per_kg is None else "at the resale value you set"
    return Working(
        title="Cost of the good castings",
        formula="the cost of what went in, less what came back, over the good castings and the abnormal loss alike",
        givens=(
            Given(
                "went in", f"{print_mass(melt.input_mg)} for {print_money(melt.input_micro, 4)}", "the charge"
            ),
            Given("good castings", print_mass(melt.good_mg), "weighed"),
            Given("came back", f"{print_mass(melt.back_mg)}, {back_rule}", "weighed"),
            Given("lost", print_mass(melt.lost_mg), "what is missing"),
            Given("normal loss, of what went in", print_percent(melt.normal_pct100), Source.OWN_SETTING),
        ),
        steps=(
            Step("normal loss", print_mass(normal_mg)),
            Step("abnormal loss", print_mass(abnormal_mg)),
            Step("less the worth of what came back", print_money(back_micro, 4)),
            Step("less the worth of the normal loss as scrap", print_money(scrap_micro, 4)),
            Step("left to carry", print_money(net_micro, 4)),
            Step("of it the abnormal loss, set aside", print_money(abnormal_micro, 4)),
            Step("of it the good castings", good),
        ),
        result=good,
        source=PROCESS_SOURCE,
    )
