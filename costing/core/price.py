"""What to ask for a piece: from its cost, and from what its metal would cost today.

Money is millionths of the currency; margins, multiples, fees and tax are hundredths of a per cent
(a multiple of 2.5 is 25000).
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from math import ceil

from costing.core.lines import compute_value_at_rate
from studio.kit.measures import MASS
from studio.kit.printing import (
    SPACE,
    print_decimal,
    print_exact_money,
    print_mass,
    print_money,
    print_percent,
)
from studio.kit.units import MG_PER_G, MG_PER_KG, PCT100_WHOLE, round_half_up
from studio.kit.working import Given, Step, Working, make_working, origin_of


def compute_price_per_kg(price_micro: int, unit: str) -> int:
    """Millionths of the currency for a kilogram, rounded once; `unit` is one of the kit's PRICE_UNITS."""
    return round_half_up(Fraction(price_micro) * MG_PER_KG / Fraction(MASS.factors[unit]))


def compute_price_per_g(price_micro: int, unit: str) -> int:
    """Millionths of the currency for a gram, rounded once; `unit` is one of the kit's PRICE_UNITS."""
    return round_half_up(Fraction(price_micro) * MG_PER_G / Fraction(MASS.factors[unit]))


def word_price_per_kg(price_micro_per_kg: int) -> tuple[int, str]:
    """The same price as it is best typed: for a gram where that is exact, else for the kilogram."""
    per_g, rest = divmod(price_micro_per_kg, MG_PER_KG // MG_PER_G)
    return (price_micro_per_kg, "kg") if rest else (per_g, "g")


def print_rule_value(hundredths: int, method: str) -> str:
    """ "60 %" for a margin in hundredths of a per cent, "2.5 times" for hundredths of the cost."""
    number = print_decimal(hundredths, 2, most=2)
    return f"{number}{SPACE}{'%' if method == 'margin' else 'times'}"


_SHOWN_MICRO = 100
"""Ten-thousandths of the currency."""


class Rule(StrEnum):
    """How a price is reached from a cost."""

    MARGIN = "margin"
    MULTIPLE = "multiple"
    PARTS = "parts"


class MetalAt(StrEnum):
    """What the metal in a thing counts as."""

    BOOK = "book"
    TODAY = "today"
    HIGHER = "higher"


class Rounding(StrEnum):
    """Where a price goes that falls between two steps."""

    UP = "up"
    NEAREST = "nearest"


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceRule:
    """One way the studio sells: to a gallery, at a market, to a customer.

    `fees_pct100` is the share of the price before tax that whoever sells it keeps. `step_micro` is the
    step to which the price asked, tax and all, is rounded; 0 leaves it alone. By parts, `value_pct100` is what the
    materials are multiplied by. What stands below the tax counts for `compute_wanted` only.
    """

    label: str
    rule: Rule
    value_pct100: int
    fees_pct100: int = 0
    step_micro: int = 0
    rounding: Rounding = Rounding.UP
    tax_pct100: int = 0
    time_pct100: int = PCT100_WHOLE
    added_micro: int = 0
    least_per_hour_micro: int = 0
    metal: MetalAt = MetalAt.BOOK
    counts_failures: bool = False

    def with_metal(self, at: MetalAt) -> "PriceRule":
        return replace(self, metal=at)


@dataclass(frozen=True, slots=True)
class Price:
    """A price to ask and the tax that is in it, or the sentence that says why there is none."""

    asked_micro: int = 0
    tax_micro: int = 0
    problem: str = ""
    working: Working | None = None

    @property
    def before_tax_micro(self) -> int:
        return self.asked_micro - self.tax_micro


def check_price_rule(rule: PriceRule) -> str:
    """The sentence that says why a rule gives no price; empty when it gives one."""
    if rule.rule is Rule.MARGIN and not 0 <= rule.value_pct100 < PCT100_WHOLE:
        return (
            f"A margin is a share of the price: {print_percent(rule.value_pct100)} cannot be had. "
            "Type 0 or more and less than 100 %."
        )
    if rule.rule is not Rule.MARGIN and rule.value_pct100 <= 0:
        return "A multiple of nothing gives no price: type how many times the cost, such as 2.5."
    if not 0 <= rule.fees_pct100 < PCT100_WHOLE:
        return "Fees are a share of the price: type 0 or more and less than 100 %."
    if rule.tax_pct100 < 0 or rule.step_micro < 0:
        return "Tax and the step of the price are 0 or more."
    return ""


def compute_price(cost_micro: int, rule: PriceRule, tax_unit_micro: int = 10_000) -> Price:
    """Price to ask by one rule, rounded to its step; tax is to the penny (`tax_unit_micro`), half up.

    Each step starts from the figure that the one before it shows, to four decimals: a person finds the same on a
    calculator, and a price is never a whole step higher for a hair that nobody sees.

    By margin m: cost / (1 - m). A margin of 100 % or more, or fees of that size, gives a problem instead.
    """
    problem = check_price_rule(rule)
    if problem:
        return Price(problem=problem)
    cost = as_shown(Fraction(cost_micro))
    wanted = as_shown(cost * factor_of(rule))
    before_tax = as_shown(wanted * PCT100_WHOLE / (PCT100_WHOLE - rule.fees_pct100))
    with_tax = as_shown(before_tax * (PCT100_WHOLE + rule.tax_pct100) / PCT100_WHOLE)
    asked_micro = round_to_step(with_tax, rule.step_micro, rule.rounding)
    tax_micro = compute_tax_inside(asked_micro, rule.tax_pct100, tax_unit_micro)
    fees, tax, asked = (
        print_percent(rule.fees_pct100),
        print_percent(rule.tax_pct100),
        print_money(asked_micro),
    )
    steps = [Step(_say_rule(cost_micro, rule), print_shown(wanted))]
    if rule.fees_pct100:
        steps.append(
            Step(f"so that this is left: {print_shown(wanted)} ÷ (100 % − {fees})", print_shown(before_tax))
        )
    if rule.tax_pct100:
        steps.append(Step(f"with tax: {print_shown(before_tax)} × (100 % + {tax})", print_shown(with_tax)))
    if rule.step_micro:
        step = print_money(rule.step_micro)
        way = f"up to a step of {step}" if rule.rounding is Rounding.UP else f"to the nearest {step}"
        steps.append(Step(f"rounded {way}", asked))
    if rule.tax_pct100:
        steps.append(Step(f"tax in this price: {asked} × {tax} ÷ (100 % + {tax})", print_money(tax_micro)))
    working = _work_price(cost_micro, rule, tuple(steps), asked_micro)
    return Price(asked_micro, tax_micro, working=working)


def round_to_step(exact_micro: Fraction, step_micro: int, rounding: Rounding) -> int:
    """Bring an exact amount to a multiple of a step, up or to the nearest; step 0 is the smallest unit."""
    steps = exact_micro / (step_micro or 1)
    whole = ceil(steps) if rounding is Rounding.UP and step_micro else round_half_up(steps)
    return whole * (step_micro or 1)


def compute_tax_inside(asked_micro: int, tax_pct100: int, unit_micro: int) -> int:
    """Tax that is in a price: below half a unit goes down, half and more up (HMRC VATREC12030)."""
    exact = Fraction(asked_micro * tax_pct100, PCT100_WHOLE + tax_pct100)
    return round_half_up(exact / unit_micro) * unit_micro


def replace_metal(
    cost_micro: int, carried_micro: int, metal_mg: int, lost_mg: int, today_micro_per_kg: int
) -> tuple[int, Working]:
    """Cost of a piece if its metal were bought today.

    `carried_micro` is what its own metal and its share of normal loss cost; both are valued again at
    today's price, all else stays.
    """
    today_micro = compute_value_at_rate(metal_mg + lost_mg, today_micro_per_kg)
    replaced_micro = cost_micro - carried_micro + today_micro
    per_gram = print_decimal(today_micro_per_kg, 9, most=9, least=4)
    cost, carried, today = (print_exact_money(amount) for amount in (cost_micro, carried_micro, today_micro))
    rest = print_exact_money(cost_micro - carried_micro)
    own, lost = print_mass(metal_mg), print_mass(lost_mg)
    working = make_working(
        "Cost with metal at today's price",
        "the cost, less what its metal and its normal loss cost, and the same grams at today's price",
        Given("cost", cost, "the cost of the piece"),
        Given("of it metal and normal loss", carried, "the cost of the piece"),
        Given("metal in it", own, "weighed"),
        Given("its share of the normal loss", lost, "the cast"),
        Given("a gram today", per_gram, "the price you typed"),
        Step(f"cost without metal: {cost} − {carried}", rest),
        Step(f"metal and loss today: ({own} + {lost}) × {per_gram}", today),
        Step(f"{rest} + {today}", print_exact_money(replaced_micro)),
        result=print_money(replaced_micro),
    )
    return replaced_micro, working


@dataclass(frozen=True, slots=True)
class Left:
    """What a price leaves over the cost, once tax and fees are gone, told both ways.

    `margin_pct100` is its share of what comes in, `markup_pct100` its share of the cost; None where that is nothing.
    """

    micro: int
    margin_pct100: int | None
    markup_pct100: int | None
    steps: tuple[Step, ...]


def compute_left(price: Price, cost_micro: int, fees_pct100: int = 0) -> Left:
    """What is left of a price over a cost; fees are a share of the price before tax."""
    fees_micro = round_half_up(Fraction(price.before_tax_micro * fees_pct100, PCT100_WHOLE))
    received_micro = price.before_tax_micro - fees_micro
    left_micro = received_micro - cost_micro
    margin_pct100 = share_pct100(left_micro, received_micro)
    markup_pct100 = share_pct100(left_micro, cost_micro)
    left, received, cost = (print_money(amount, 4) for amount in (left_micro, received_micro, cost_micro))
    steps = [Step(f"left after its cost: {received} − {cost}", left)]
    if price.tax_micro or fees_micro:
        gone = [print_money(amount) for amount in (price.tax_micro, fees_micro) if amount]
        steps.insert(0, Step(f"comes in: {print_money(price.asked_micro)} − {' − '.join(gone)}", received))
    if margin_pct100 is not None:
        steps.append(Step(f"margin, of what comes in: {left} ÷ {received}", print_percent(margin_pct100)))
    if markup_pct100 is not None:
        steps.append(Step(f"markup, on the cost: {left} ÷ {cost}", print_percent(markup_pct100)))
    return Left(left_micro, margin_pct100, markup_pct100, tuple(steps))


def share_pct100(part_micro: int, whole_micro: int) -> int | None:
    if whole_micro <= 0:
        return None
    return round_half_up(Fraction(part_micro * PCT100_WHOLE, whole_micro))


def factor_of(rule: PriceRule) -> Fraction:
    if rule.rule is Rule.MARGIN:
        return Fraction(PCT100_WHOLE, PCT100_WHOLE - rule.value_pct100)
    return Fraction(rule.value_pct100, PCT100_WHOLE)


def as_shown(exact_micro: Fraction) -> Fraction:
    """The amount as it is shown, to four decimals."""
    return Fraction(round_half_up(exact_micro / _SHOWN_MICRO) * _SHOWN_MICRO)


def print_shown(exact_micro: Fraction) -> str:
    return print_money(round_half_up(exact_micro), 4)


def say_rule_value(rule: PriceRule) -> str:
    if rule.rule is Rule.MARGIN:
        return print_percent(rule.value_pct100)
    return print_decimal(rule.value_pct100, 4, most=4) + " times"


def _say_rule(cost_micro: int, rule: PriceRule) -> str:
    cost = print_money(cost_micro, 4)
    if rule.rule is Rule.MARGIN:
        return f"{cost} ÷ (100 % − {say_rule_value(rule)})"
    return f"{cost} × {print_decimal(rule.value_pct100, 4, most=4)}"


def _work_price(cost_micro: int, rule: PriceRule, steps: tuple[Step, ...], asked_micro: int) -> Working:
    by_margin = rule.rule is Rule.MARGIN
    givens = [
        Given("cost", print_money(cost_micro, 4), "the cost of the piece"),
        Given(
            "margin" if by_margin else "multiple of the cost",
            say_rule_value(rule),
            origin_of(rule.value_pct100),
        ),
    ]
    if rule.fees_pct100:
        givens.append(Given("fees of who sells it", print_percent(rule.fees_pct100), "typed here"))
    if rule.tax_pct100:
        givens.append(Given("tax", print_percent(rule.tax_pct100), origin_of(rule.tax_pct100)))
    formula = (
        "the cost divided by what the margin leaves of the price"
        if by_margin
        else "the cost times the multiple"
    )
    loses = rule.rule is Rule.MULTIPLE and rule.value_pct100 < PCT100_WHOLE
    return make_working(
        f"Price: {rule.label}",
        formula + "; then fees, tax and the step",
        *givens,
        *steps,
        result=print_money(asked_micro),
        source=origin_of(rule.value_pct100),
        notes=("This sells below cost.",) if loses else (),
    )
