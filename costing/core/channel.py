"""A way of selling: what it keeps of a price, and the price that leaves a wanted sum once it has kept it.

Money is millionths of the currency. Every fee and the tax are rounded to the smallest unit that is paid, half up, as
they are when they are charged.
"""

from dataclasses import dataclass
from fractions import Fraction
from math import floor

from costing.core.price import Rounding, compute_tax_inside, round_to_step, share_pct100
from studio.kit.printing import print_money, print_percent
from studio.kit.units import PCT100_WHOLE, round_half_up
from studio.kit.working import Given, Step, Working, make_working, origin_of

PENNY_MICRO = 10_000
_LEAST_LEFT = Fraction(1, 100)
# Tax, commission and card are each within half a unit of their exact value.
_ROUNDED_AWAY = Fraction(3, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fees:
    """What a channel keeps.

    `commission_pct100` is of the price before tax; `card_pct100` of all that is paid, with a sum `card_micro` for the
    sale. `day_micro` is shared by `sold_a_day` pieces. `tax` is "in" the told price, "out" when it is added, or "none".
    """

    label: str
    commission_pct100: int = 0
    card_pct100: int = 0
    card_micro: int = 0
    day_micro: int = 0
    sold_a_day: int = 1
    shipping_micro: int = 0
    tax: str = "in"
    tax_pct100: int = 0
    unit_micro: int = PENNY_MICRO

    @property
    def rate_pct100(self) -> int:
        return 0 if self.tax == "none" else self.tax_pct100

    @property
    def day_share_micro(self) -> int:
        return self.to_unit(Fraction(self.day_micro, self.sold_a_day))

    @property
    def sums_micro(self) -> int:
        """What goes whatever the price is."""
        return self.card_micro + self.day_share_micro + self.shipping_micro

    @property
    def left_of_one(self) -> Fraction:
        """What the shares leave of one unit of money before tax."""
        card = Fraction(self.card_pct100, PCT100_WHOLE) * self.with_tax
        return 1 - Fraction(self.commission_pct100, PCT100_WHOLE) - card

    @property
    def with_tax(self) -> Fraction:
        """What is paid for one unit of money before tax."""
        return Fraction(PCT100_WHOLE + self.rate_pct100, PCT100_WHOLE)

    def to_unit(self, exact: Fraction) -> int:
        return round_half_up(exact / self.unit_micro) * self.unit_micro


@dataclass(frozen=True, slots=True)
class Kept:
    """Where a told price goes: tax, each fee, and what is left of it for the studio."""

    fees: Fees
    told_micro: int
    tax_micro: int
    commission_micro: int
    card_micro: int

    @property
    def paid_micro(self) -> int:
        """What the buyer pays."""
        return self.told_micro + (self.tax_micro if self.fees.tax == "out" else 0)

    @property
    def before_tax_micro(self) -> int:
        return self.paid_micro - self.tax_micro

    @property
    def fees_micro(self) -> int:
        return self.commission_micro + self.card_micro + self.fees.day_share_micro + self.fees.shipping_micro

    @property
    def left_micro(self) -> int:
        return self.before_tax_micro - self.fees_micro

    def over_micro(self, cost_micro: int) -> int:
        return self.left_micro - cost_micro

    def margin_pct100(self, cost_micro: int) -> int | None:
        """What is left over the cost, of what is left; None where nothing is."""
        return share_pct100(self.over_micro(cost_micro), self.left_micro)

    def work(self, cost_micro: int) -> Working:
        """How what is left over a cost came about."""
        parts = [
            ("tax", self.tax_micro),
            ("commission", self.commission_micro),
            ("card", self.card_micro),
            ("its share of the day's fee", self.fees.day_share_micro),
            ("shipping", self.fees.shipping_micro),
        ]
        gone = [
            Given(label, print_money(amount), _origin(self.fees, label)) for label, amount in parts if amount
        ]
        minus = "".join(f" − {given.value}" for given in gone)
        left, over = print_money(self.left_micro), print_money(self.over_micro(cost_micro), 4)
        steps = [Step(f"left: {print_money(self.paid_micro)}{minus}", left)]
        steps.append(Step(f"over the cost: {left} − {print_money(cost_micro, 4)}", over))
        margin = self.margin_pct100(cost_micro)
        if margin is not None:
            steps.append(Step(f"margin: {over} ÷ {left}", print_percent(margin)))
        return make_working(
            f"What {print_money(self.told_micro)} leaves: {self.fees.label}",
            "what is paid, less tax and every fee, each to the smallest coin; then less the cost",
            Given("paid", print_money(self.paid_micro), "the price"),
            *gone,
            *steps,
            result=over,
        )


def _origin(fees: Fees, label: str) -> str:
    shares = {"tax": fees.tax_pct100, "commission": fees.commission_pct100, "card": fees.card_pct100}
    if label not in shares:
        return "the channel"
    where = origin_of(fees.tax_pct100) if label == "tax" else "the channel"
    return f"{print_percent(shares[label])}, {where}"


def compute_kept(told_micro: int, fees: Fees) -> Kept:
    """What a channel keeps of a price as it is told."""
    rate = fees.rate_pct100
    if fees.tax == "out":
        tax_micro = fees.to_unit(Fraction(told_micro * rate, PCT100_WHOLE))
        paid_micro = told_micro + tax_micro
    else:
        tax_micro = compute_tax_inside(told_micro, rate, fees.unit_micro)
        paid_micro = told_micro
    before_micro = paid_micro - tax_micro
    return Kept(
        fees,
        told_micro,
        tax_micro,
        fees.to_unit(Fraction(before_micro * fees.commission_pct100, PCT100_WHOLE)),
        fees.to_unit(Fraction(paid_micro * fees.card_pct100, PCT100_WHOLE)) + fees.card_micro,
    )


@dataclass(frozen=True, slots=True)
class Solved:
    """The price to tell and where it goes, or the sentence that says why there is none."""

    kept: Kept | None = None
    problem: str = ""
    working: Working | None = None


def check_fees(fees: Fees) -> str:
    """The sentence that says why no price pays these fees; "" when one does."""
    if fees.left_of_one >= _LEAST_LEFT:
        return ""
    shares = [("commission", fees.commission_pct100), ("card", fees.card_pct100)]
    told = " and ".join(f"{label} {print_percent(share)}" for label, share in shares if share)
    return f"The fees eat the price: {told} leave less than 1 % of it. Lower them, or no price can pay for the piece."


def solve_price(wanted_micro: int, fees: Fees, step_micro: int, rounding: Rounding = Rounding.UP) -> Solved:
    """The price that leaves `wanted_micro` after every fee and the tax.

    Rounded up, it is the lowest on the step that leaves it, fees rounded as they are charged. Rounded to the nearest
    it may leave a little less.
    """
    problem = check_fees(fees)
    if problem:
        return Solved(problem=problem)
    # Nobody can pay less than the smallest coin.
    step = max(step_micro, fees.unit_micro)
    exact = _solve_exactly(Fraction(wanted_micro), fees)
    if rounding is Rounding.NEAREST:
        kept = compute_kept(round_to_step(exact, step, rounding), fees)
    else:
        least = _solve_exactly(wanted_micro - _ROUNDED_AWAY * fees.unit_micro, fees)
        kept = compute_kept(max(floor(least / step), 0) * step, fees)
        while kept.left_micro < wanted_micro:
            kept = compute_kept(kept.told_micro + step, fees)
    return Solved(kept, working=_work_price(wanted_micro, kept, step, rounding))


def _solve_exactly(wanted: Fraction, fees: Fees) -> Fraction:
    before_tax = (wanted + fees.sums_micro) / fees.left_of_one
    return before_tax * fees.with_tax if fees.tax == "in" else before_tax


def _work_price(wanted_micro: int, kept: Kept, step_micro: int, rounding: Rounding) -> Working:
    fees = kept.fees
    wanted, rate = print_money(wanted_micro, 4), print_percent(fees.rate_pct100)
    givens = [Given("to be left", wanted, "the price rule")]
    minus = []
    if fees.commission_pct100:
        commission = print_percent(fees.commission_pct100)
        givens.append(Given("commission, before tax", commission, "the channel"))
        minus.append(commission)
    if fees.card_pct100:
        card = print_percent(fees.card_pct100)
        givens.append(Given("card, of what is paid", card, "the channel"))
        minus.append(f"{card} × (100 % + {rate})" if fees.rate_pct100 else card)
    sums = [("card, each sale", fees.card_micro), ("shipping", fees.shipping_micro)]
    givens += [Given(label, print_money(amount), "the channel") for label, amount in sums if amount]
    if fees.day_micro:
        shared = f"{print_money(fees.day_micro)} ÷ {fees.sold_a_day}"
        givens.append(Given("its share of the day's fee", shared, "the channel"))
    before_tax = (wanted_micro + fees.sums_micro) / fees.left_of_one
    before = print_money(round_half_up(before_tax), 4)
    plus = f" + {print_money(fees.sums_micro)}" if fees.sums_micro else ""
    steps = []
    if minus or plus:
        top = f"({wanted}{plus})" if plus and minus else f"{wanted}{plus}"
        under = f" ÷ (100 % − {' − '.join(minus)})" if minus else ""
        steps.append(Step(f"so that this is left: {top}{under}", before))
    if fees.tax == "in" and fees.rate_pct100:
        givens.append(Given("tax, in the price", rate, origin_of(fees.tax_pct100)))
        with_tax = print_money(round_half_up(before_tax * fees.with_tax), 4)
        steps.append(Step(f"with tax: {before} × (100 % + {rate})", with_tax))
    step = print_money(step_micro)
    way = (
        f"the lowest on a step of {step} that leaves it"
        if rounding is Rounding.UP
        else f"to the nearest {step}"
    )
    steps.append(Step(f"{way}, each fee to the smallest coin", print_money(kept.told_micro)))
    if fees.tax == "out" and fees.rate_pct100:
        steps.append(Step(f"tax of {rate} is added, and the buyer pays", print_money(kept.paid_micro)))
    return make_working(
        f"Price: {fees.label}",
        "what should be left and the fees that are sums, divided by what the fees that are shares leave of the price; "
        "then tax and the step",
        *givens,
        *steps,
        result=print_money(kept.told_micro),
    )
