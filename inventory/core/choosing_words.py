"""How an order that was chosen comes to its cost, in words and pennies; and how offers compare by what is used.

Money here is millionths; `penny_micro` is the last unit that pages show, to which each part is rounded once.
"""

from dataclasses import dataclass
from fractions import Fraction

from studio.kit.printing import print_decimal, print_money, print_pack, print_percent, print_quantity
from studio.kit.rounding import round_to_unit
from studio.kit.units import PCT100_WHOLE, round_half_up
from studio.kit.working import Given, Step, Working, make_working

from .choosing import (
    DAYS_A_YEAR,
    Ahead,
    Choice,
    EconomicOrder,
    Line,
    Need,
    Part,
    Terms,
    compute_cost_used,
    compute_economic_order,
)

EOQ_SOURCE = "economic order quantity (Harris 1913): Stevenson, Operations Management"


@dataclass(frozen=True, slots=True)
class Figures:
    """What an order comes to, each part to the penny, so that they add up as they are shown.

    `left_micro` is what is still good at the day ahead, at the lowest price that anybody asks; of the goods
    `stale_micro` is never used.
    """

    goods_micro: int
    duty_micro: int
    carriage_micro: int
    holding_micro: int
    left_micro: int
    stale_micro: int

    @property
    def paid_micro(self) -> int:
        return self.goods_micro + self.duty_micro + self.carriage_micro

    @property
    def total_micro(self) -> int:
        return self.paid_micro + self.holding_micro - self.left_micro


def compute_figures(choice: Choice, penny_micro: int) -> Figures:
    def to_penny(exact: Fraction | int) -> int:
        return round_to_unit(round_half_up(exact), penny_micro)

    return Figures(
        to_penny(sum(part.goods_micro for part in choice.parts)),
        to_penny(sum((part.duty_micro for part in choice.parts), Fraction(0))),
        to_penny(sum(choice.carriage_micro.values())),
        to_penny(sum((part.holding_micro for part in choice.parts), Fraction(0))),
        to_penny(sum((part.credit_micro for part in choice.parts), Fraction(0))),
        to_penny(sum((_stale_micro(part) for part in choice.parts), Fraction(0))),
    )


def say_line(line: Line, unit: str) -> str:
    """ "2 × 25 kg at 70.00" """
    price = print_money(line.pack.price_micro(line.packs))
    return f"{line.packs} × {print_pack(line.pack.quantity, unit)} at {price}"


def _stale_micro(part: Part) -> Fraction:
    quantity = sum(line.quantity for line in part.lines)
    return (part.goods_micro + part.duty_micro) * part.stale / quantity if quantity else Fraction(0)


def explain_total(figures: Figures, until: str) -> Working:
    """The sum that was made as small as it can be."""
    money = print_money
    return make_working(
        "What this order costs",
        "goods, duty and carriage, and what the money in stock costs, less what is still good at the day ahead",
        Step("goods", money(figures.goods_micro)),
        Step("duty", money(figures.duty_micro)),
        Step("carriage", money(figures.carriage_micro)),
        Step("to pay", money(figures.paid_micro)),
        Step("money in stock until it is used", money(figures.holding_micro)),
        Step(f"worth of what is still good on {until}", money(figures.left_micro)),
        Step(
            f"{money(figures.paid_micro)} + {money(figures.holding_micro)} − {money(figures.left_micro)}",
            money(figures.total_micro),
        ),
        notes=(
            f"What goes stale is in the goods and worth nothing later: {money(figures.stale_micro)}.",
            "What is left counts at the lowest price that anybody asks: buying more is neither free nor punished.",
            "Each part is rounded to the penny.",
        ),
    )


def explain_part(part: Part, title: str, unit: str, terms: dict[int, Terms], ahead: Ahead) -> Working:
    """One material of an order without its carriage."""

    def about(quantity: Fraction | int) -> str:
        return print_quantity(round_half_up(quantity), unit)

    steps = [
        Step(
            say_line(line, unit),
            print_money(line.price_micro),
        )
        for line in part.lines
    ]
    steps += [Step("duty", print_money(round_half_up(part.duty_micro)))] if part.duty_micro else []
    steps += [
        Step("used before it is out of date", about(part.used)),
        Step("goes stale", about(part.stale)),
        *_hold_steps(part, ahead),
        Step("still good at the day ahead", about(part.left)),
        Step("worth, at the lowest price that anybody asks", print_money(round_half_up(part.credit_micro))),
    ]
    need = part.need
    return make_working(
        title,
        "goods and duty, and what the money in stock costs, less the worth of what is still good at the day ahead",
        Given("must come", about(need.least), "worked out above"),
        Given("still here when it comes", about(need.still), "the stock and your use"),
        *steps,
        result=print_money(round_half_up(part.own_micro)),
    )


def _hold_steps(part: Part, ahead: Ahead) -> list[Step]:
    value = part.goods_micro + part.duty_micro
    if not part.holding_micro or not value:
        return []
    days = part.holding_micro * DAYS_A_YEAR * PCT100_WHOLE / (value * ahead.holding_pct100)
    shown = print_decimal(round_half_up(days * 100), 2, most=2)
    return [
        Step(f"days in the mean until it is used, {ahead.days} at most", shown),
        Step(
            f"money in stock: {print_money(round_half_up(value))} × {print_percent(ahead.holding_pct100)} × "
            f"{shown} ÷ {DAYS_A_YEAR}",
            print_money(round_half_up(part.holding_micro)),
        ),
    ]


def explain_carriage(
    name: str, terms: Terms, price_micro: int, weight_mg: int, carriage_micro: int
) -> Working:
    """What a supplier's parcel costs to bring, by the step that it reaches."""
    size = print_pack(weight_mg, "mass") if terms.by_weight else print_money(price_micro)
    shown = [
        f"from {print_pack(reached, 'mass') if terms.by_weight else print_money(reached)}: {print_money(carriage)}"
        for reached, carriage in sorted(terms.carriage)
    ]
    return make_working(
        f"Carriage from {name}",
        "the last step that the parcel reaches",
        Given("the parcel", size, "its weight" if terms.by_weight else "the price of its goods"),
        Given("steps", "; ".join(shown) or "none written down", "the supplier's page"),
        Step("carriage", print_money(carriage_micro)),
        source="the supplier's terms",
    )


@dataclass(frozen=True, slots=True)
class Compared:
    """One offer by itself: what is ordered of it, and what a small unit that is used costs; None where none is.

    `goods`, `brought` (duty and carriage) and `stale` are its parts, in millionths for a small unit that is used.
    """

    line: Line
    rate: Fraction | None
    goods: Fraction
    brought: Fraction
    stale: Fraction
    used: Fraction


def compare_offer(line: Line, part: Part, terms: Terms, need: Need) -> Compared:
    rate = compute_cost_used(line, terms, need)
    if rate is None:
        return Compared(line, None, Fraction(0), Fraction(0), Fraction(0), Fraction(0))
    goods = Fraction(line.price_micro, line.quantity)
    whole = Fraction(line.price_micro) / part.used
    return Compared(line, rate, goods, rate - whole, whole - goods, part.used)


def explain_offer(one: Compared, title: str, unit: str, terms: Terms, rate_text: str) -> Working:
    line = one.line
    carriage = terms.carriage_micro(line.price_micro, line.weight_mg)
    duty = Fraction(line.price_micro * terms.duty_pct100, PCT100_WHOLE)
    together = round_half_up(line.price_micro + duty + carriage)
    steps = [
        Step(
            say_line(line, unit),
            print_money(line.price_micro),
        ),
        Step("duty", print_money(round_half_up(duty))),
        Step("carriage of it alone", print_money(carriage)),
        Step("together", print_money(together)),
        Step("used before it is out of date", print_quantity(round_half_up(one.used), unit)),
    ]
    if one.rate is None:
        return make_working(
            title, "price, duty and carriage over what is used", *steps, result="none of it is used in time"
        )
    used = print_quantity(round_half_up(one.used), unit)
    return make_working(
        title,
        "price, duty and carriage over what is used before it is out of date",
        *steps,
        Step(f"{print_money(together)} ÷ {used}", rate_text),
    )


def work_economic_order(
    need: Need, unit: str, order_micro: int, rate: Fraction, holding_pct100: int
) -> tuple[EconomicOrder, Working] | None:
    """The textbook's order of a material that costs `rate` a small unit; None where it has no answer."""
    a_year = need.a_day * DAYS_A_YEAR
    holding = rate * holding_pct100 / PCT100_WHOLE
    if a_year <= 0 or order_micro <= 0 or holding <= 0:
        return None
    best = compute_economic_order(a_year, order_micro, holding)
    quantity = print_quantity(round_half_up(best.quantity), unit)
    return best, make_working(
        "The textbook's order",
        "the square root of 2 × what a year takes × what an order costs ÷ what a unit costs to hold for a year",
        Given("a year takes", print_quantity(round_half_up(a_year), unit), "your casts"),
        Given("an order costs", print_money(order_micro), "its carriage"),
        Given("held for a year", f"{print_percent(holding_pct100)} of the price", "the studio's setting"),
        Step("order each time", quantity),
        Step(
            "carriage and money in stock then cost in a year", print_money(round_half_up(best.yearly_micro))
        ),
        result=quantity,
        source=EOQ_SOURCE,
        notes=(
            "It knows no packs, no steps of carriage and nothing that goes stale: a figure to stand beside.",
        ),
    )
