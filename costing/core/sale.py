"""A sale's money: what each piece in it is paid, the tax in that, and its share of every fee.

Money is millionths of the currency. Discount, tax and fees are whole smallest coins (`unit_micro`) for the sale as a
whole, half up, and its pieces share them by largest remainder, so that the shares add up to what was paid and kept.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import repeat

from costing.core.price import compute_tax_inside
from costing.core.tax import compute_bill_taxes
from studio.kit.printing import print_money, print_percent
from studio.kit.rounding import allocate_largest_remainder
from studio.kit.units import PCT100_WHOLE, round_half_up
from studio.kit.working import Given, Step, Working, make_working

INSIDE, ADDED, NONE = "in", "out", "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class SaleTerms:
    """What goes for a sale as a whole, in millionths; shares are hundredths of a per cent.

    `tax` is "in" the prices, "out" when it is added, or "none"; rounded for each piece (`by_line`) or for the sale.
    `card_paid_micro` is what was paid by card, None for all of it; `card_each_micro` goes `card_sales` times. A fee
    that is known as a sum (`card_fee_micro`, `commission_sum_micro`) is taken instead of its share.
    """

    tax: str = INSIDE
    tax_pct100: int = 0
    by_line: bool = False
    discount_micro: int = 0
    commission_pct100: int = 0
    commission_sum_micro: int | None = None
    card_pct100: int = 0
    card_each_micro: int = 0
    card_sales: int = 1
    card_fee_micro: int | None = None
    day_micro: int = 0
    shipping_micro: int = 0
    unit_micro: int = 10_000

    @property
    def rate_pct100(self) -> int:
        return 0 if self.tax == NONE else self.tax_pct100

    def to_unit(self, exact: Fraction) -> int:
        return round_half_up(exact / self.unit_micro) * self.unit_micro

    def share(self, total_micro: int, weights: Sequence[int]) -> list[int]:
        """Whole coins by weight; what is no whole coin, as somebody wrote it, goes by millionths."""
        unit = 1 if total_micro % self.unit_micro else self.unit_micro
        return [one * unit for one in allocate_largest_remainder(total_micro // unit, weights)]


@dataclass(frozen=True, slots=True)
class LineMoney:
    """One piece: its price as told, less its share of the discount; the tax of what is left; its shares of the fees."""

    price_micro: int
    discount_micro: int
    tax_micro: int
    is_added: bool
    commission_micro: int
    card_micro: int
    day_micro: int
    shipping_micro: int

    @property
    def told_micro(self) -> int:
        return self.price_micro - self.discount_micro

    @property
    def paid_micro(self) -> int:
        """What the buyer paid for it."""
        return self.told_micro + (self.tax_micro if self.is_added else 0)

    @property
    def before_tax_micro(self) -> int:
        return self.paid_micro - self.tax_micro

    @property
    def fees_micro(self) -> int:
        return self.commission_micro + self.card_micro + self.day_micro + self.shipping_micro

    @property
    def left_micro(self) -> int:
        return self.before_tax_micro - self.fees_micro


@dataclass(frozen=True, slots=True)
class SaleMoney:
    """A sale's lines in the order of its prices, and their sums."""

    terms: SaleTerms
    lines: tuple[LineMoney, ...]

    def sum_of(self, name: str) -> int:
        """The sum of an amount of the lines, by its name without `_micro`."""
        return sum(getattr(line, f"{name}_micro") for line in self.lines)

    @property
    def working(self) -> Working:
        """How what is left of the sale came about."""
        return self.work("What the sale leaves")

    def work(self, title: str, back: "PaidBack | None" = None) -> Working:
        """The same, less what was paid back since."""
        terms, sums = self.terms, self.sum_of
        price, told, paid = (print_money(sums(name)) for name in ("price", "told", "paid"))
        givens = [
            Given("prices together", price, "the sale"),
            Given("pieces", str(len(self.lines)), "the sale"),
        ]
        steps = []
        if sums("discount"):
            discount = print_money(sums("discount"))
            givens.append(Given("discount", discount, "the sale"))
            steps.append(Step(f"less the discount: {price} − {discount}", told))
        if terms.rate_pct100:
            way = "for each piece" if terms.by_line else "once for the sale"
            where = "is added" if terms.tax == ADDED else "is in it"
            givens.append(
                Given("tax", f"{print_percent(terms.rate_pct100)}, {where}", "the channel and the cost rules")
            )
            steps.append(Step(f"tax, to the smallest coin {way}", print_money(sums("tax"))))
        if terms.tax == ADDED and terms.rate_pct100:
            steps.append(Step(f"paid: {told} + {print_money(sums('tax'))}", paid))
        givens += [Given(label, print_money(sums(name)), "the sale") for name, label in _GONE if sums(name)]
        minus = "".join(f" − {print_money(sums(name))}" for name, _ in _GONE if sums(name))
        steps.append(Step(f"left: {paid}{minus}", print_money(sums("left"))))
        if back is not None and back.amount_micro:
            steps.append(back.step(sums("left")))
        return make_working(
            title,
            "what was paid, less tax and every fee; each is shared over the pieces by what they went for, so that the "
            "shares add up",
            *givens,
            *steps,
        )

    def work_owed(self, back: "PaidBack | None" = None) -> Working:
        """What whoever took the money of the sale owes: they keep their commission and the card's fee."""
        keeps = [name for name in ("commission", "card") if self.sum_of(name)]
        minus = "".join(f" − {print_money(self.sum_of(name))}" for name in keeps)
        owed_micro = self.sum_of("paid") - sum(map(self.sum_of, keeps))
        steps = [Step(f"owed: {print_money(self.sum_of('paid'))}{minus}", print_money(owed_micro))]
        if back is not None and back.amount_micro:
            steps.append(PaidBack(back.amount_micro, 0, back.fees_micro).step(owed_micro))
        return make_working("What they owe you", "what was paid, less what they keep of it", *steps)


_GONE = (
    ("tax", "tax, to be paid on"),
    ("commission", "commission"),
    ("card", "card fee"),
    ("day", "table"),
    ("shipping", "shipping"),
)


@dataclass(frozen=True, slots=True)
class PaidBack:
    """What of a sale was paid back, the tax in that, and the fees that came back with it; millionths."""

    amount_micro: int = 0
    tax_micro: int = 0
    fees_micro: int = 0

    @property
    def unleft_micro(self) -> int:
        """By how much less is left for it."""
        return self.amount_micro - self.tax_micro - self.fees_micro

    def step(self, before_micro: int) -> Step:
        """What it leaves of an amount."""
        parts = [before_micro, self.amount_micro, self.tax_micro, self.fees_micro]
        before, amount, tax, fees = map(print_money, parts)
        plus = f"{f' + {tax}' if self.tax_micro else ''}{f' + {fees}' if self.fees_micro else ''}"
        after_micro = before_micro - self.unleft_micro
        told = "after what was paid back, its tax and its fees" if plus else "after what was paid back"
        return Step(f"{told}: {before} − {amount}{plus}", print_money(after_micro))


def check_sale(prices: Sequence[int], terms: SaleTerms) -> str:
    """The sentence that says why a sale cannot be so; "" when it can."""
    if not prices:
        return "Tick at least one piece, or write its price."
    if min(prices) < 0:
        return "A price is nothing or more."
    if terms.discount_micro > sum(prices):
        return (
            f"The discount of {print_money(terms.discount_micro)} is more than the prices together, "
            f"{print_money(sum(prices))}. Write less."
        )
    return ""


def compute_sale(prices: Sequence[int], terms: SaleTerms) -> SaleMoney:
    """The money of a sale of pieces at these prices. Raises ValueError for one that `check_sale` refuses.

    Discount by price; tax of what is left; commission by what is before tax, card fee by what is paid; table and
    shipping by what is before tax.
    """
    problem = check_sale(prices, terms)
    if problem:
        raise ValueError(problem)
    discounts = terms.share(terms.discount_micro, prices)
    told = [price - discount for price, discount in zip(prices, discounts, strict=True)]
    taxes = _share_tax(told, terms)
    paid = [one + tax for one, tax in zip(told, taxes, strict=True)] if terms.tax == ADDED else told
    before = [one - tax for one, tax in zip(paid, taxes, strict=True)]
    commission = terms.commission_sum_micro
    if commission is None:
        commission = terms.to_unit(Fraction(sum(before) * terms.commission_pct100, PCT100_WHOLE))
    card = terms.card_fee_micro
    if card is None:
        share = terms.to_unit(Fraction(sum(paid) * terms.card_pct100, PCT100_WHOLE))
        card = share + terms.card_each_micro * terms.card_sales
    columns = (
        prices,
        discounts,
        taxes,
        repeat(terms.tax == ADDED, len(prices)),
        terms.share(commission, before),
        terms.share(card, paid),
        terms.share(terms.day_micro, before),
        terms.share(terms.shipping_micro, before),
    )
    return SaleMoney(terms, tuple(LineMoney(*row) for row in zip(*columns, strict=True)))


def _share_tax(told: Sequence[int], terms: SaleTerms) -> Sequence[int]:
    rate, unit = terms.rate_pct100, terms.unit_micro
    if terms.tax == ADDED:
        return compute_bill_taxes([(one, rate) for one in told], terms.by_line, unit)
    if terms.by_line:
        return [compute_tax_inside(one, rate, unit) for one in told]
    return terms.share(compute_tax_inside(sum(told), rate, unit), told)


def compute_tax_back(refund_micro: int, paid_micro: int, tax_micro: int, unit_micro: int = 10_000) -> int:
    """The tax in a refund of some of what was paid: its share of the tax, half a coin up; all of it of a full refund.

    Raises ValueError for more than was paid.
    """
    if not 0 <= refund_micro <= paid_micro:
        raise ValueError("a refund is at most what was paid")
    if not refund_micro:
        return 0
    exact = Fraction(tax_micro * refund_micro, paid_micro)
    return min(round_half_up(exact / unit_micro) * unit_micro, tax_micro, refund_micro)
