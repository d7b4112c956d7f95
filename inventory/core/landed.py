"""What stock cost when it stood in the studio: its own price and its share of what came on top.

Money is millionths of the currency; quantities are the material's small unit (milligrams, thousandths of a
millilitre, items).
"""

from dataclasses import dataclass
from fractions import Fraction

from studio.kit.measures import stock_measure
from studio.kit.printing import (
    print_decimal,
    print_exact_money,
    print_mass,
    print_money,
    print_quantity,
)
from studio.kit.units import MICRO_PER_UNIT, round_half_up
from studio.kit.working import Given, Step, Working, make_working

_UNIT_COST_DECIMALS = 4
_PENNY_DECIMALS = 2


@dataclass(frozen=True, slots=True)
class LandedLine:
    """One lot of a delivery. `share_micro` is of the charges known at the time, `late_micro` of later bills.

    Of the later bills `late_used_micro` came when that much of the lot was used already: it is part of what the lot
    cost to land, and stands with late bills instead of on what is left.
    `weight` of `weights` is what the charges were spread by: prices, or quantities where it went by mass.
    """

    quantity: int
    unit: str
    price_micro: int
    share_micro: int = 0
    weight: int = 0
    weights: int = 0
    late_micro: int = 0
    late_used_micro: int = 0

    @property
    def landed_micro(self) -> int:
        return self.price_micro + self.share_micro + self.late_micro

    @property
    def rate_text(self) -> str:
        return print_unit_cost(self.landed_micro, self.quantity, self.unit)


@dataclass(frozen=True, slots=True)
class OnTop:
    """What a delivery cost on top of its prices, and whether it was spread by mass."""

    carriage_micro: int = 0
    duty_micro: int = 0
    tax_micro: int = 0
    by_mass: bool = False

    @property
    def total_micro(self) -> int:
        return self.carriage_micro + self.duty_micro + self.tax_micro


def print_unit_cost(cost_micro: int, quantity: int, unit: str) -> str:
    """ "0.8300 per g"; "" when there is nothing to divide by.

    Four decimals, and as many more as it takes that the whole quantity at this price is right to the penny: powder by
    the tub costs less than a penny a gram.
    """
    if quantity <= 0:
        return ""
    measure = stock_measure(unit)
    small = 10**measure.digits
    digits = max(_UNIT_COST_DECIMALS, len(str((quantity - 1) // small)) + _PENNY_DECIMALS)
    rate = Fraction(cost_micro * small, quantity * MICRO_PER_UNIT)
    shown = print_decimal(round_half_up(rate * 10**digits), digits, most=digits, least=_UNIT_COST_DECIMALS)
    return f"{shown} per {measure.one or measure.symbol}"


def explain_landed_cost(line: LandedLine, on_top: OnTop, title: str = "Cost with carriage") -> Working:
    """The sum behind a lot's landed cost."""
    how = "mass" if on_top.by_mass else "price"
    givens = [
        Given("its price", print_exact_money(line.price_micro), "the delivery"),
        Given("its quantity", print_quantity(line.quantity, line.unit), "the delivery"),
    ]
    for label, amount_micro in (
        ("carriage", on_top.carriage_micro),
        ("duty", on_top.duty_micro),
        ("tax that cannot be claimed back", on_top.tax_micro),
    ):
        if amount_micro:
            givens.append(Given(f"{label} of the delivery", print_exact_money(amount_micro), "the delivery"))
    notes = []
    steps = []
    if on_top.total_micro:
        notes.append("Shares are given out to the last unit, so that they add up to the bill.")
        steps.append(_share_step(line, on_top, how))
    if line.late_micro:
        steps.append(Step("share of bills that came later", print_exact_money(line.late_micro)))
    parts = [line.price_micro, *(part for part in (line.share_micro, line.late_micro) if part)]
    steps.append(
        Step(" + ".join(print_exact_money(part) for part in parts), print_exact_money(line.landed_micro))
    )
    if line.quantity > 0:
        whole = print_exact_money(line.landed_micro)
        steps.append(Step(f"{whole} ÷ {print_quantity(line.quantity, line.unit)}", line.rate_text))
    if line.late_used_micro:
        notes.append(
            f"{print_exact_money(line.late_used_micro)} of the later bills is for what was used before they came: it "
            "stands with late bills, and not on what is left of the lot."
        )
    return make_working(
        title,
        f"its own price, and its share by {how} of what came on top",
        *givens,
        *steps,
        result=print_money(line.landed_micro),
        notes=tuple(notes),
    )


def _share_step(line: LandedLine, on_top: OnTop, how: str) -> Step:
    if not line.weights:
        return Step(
            f"{print_exact_money(on_top.total_micro)} in equal shares", print_exact_money(line.share_micro)
        )
    shown = print_mass if on_top.by_mass else print_exact_money
    weight, weights = shown(line.weight), shown(line.weights)
    return Step(
        f"share by {how}: {print_exact_money(on_top.total_micro)} × {weight} ÷ {weights}",
        print_exact_money(line.share_micro),
    )
