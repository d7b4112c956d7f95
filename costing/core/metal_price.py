"""What an alloy costs to buy again: from the price of its pure metal and what its maker asks on top.

Prices are millionths of the currency for a kilogram.
"""

from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from costing.core.price import compute_price_per_kg
from studio.kit.measures import MASS
from studio.kit.printing import print_date, print_decimal, print_exact_money, print_percent
from studio.kit.units import MG_PER_KG, PCT100_WHOLE, PER_MILLE_WHOLE, round_half_up
from studio.kit.working import Given, Source, Step, Working, make_working


@dataclass(frozen=True, slots=True)
class DatedPrice:
    """A price as it was typed: millionths of the currency for one of PRICE_UNITS, on a day."""

    price_micro: int
    per_unit: str
    day: date

    @property
    def words(self) -> str:
        return f"{print_exact_money(self.price_micro)} per {self.per_unit}"

    @property
    def exact_per_kg(self) -> Fraction:
        return Fraction(self.price_micro) * MG_PER_KG / Fraction(MASS.factors[self.per_unit])


@dataclass(frozen=True, slots=True)
class Premium:
    """What a maker asks on top of the pure metal in an alloy: a share of that, and so much for a kilogram."""

    share_pct100: int = 0
    micro_per_kg: int = 0


@dataclass(frozen=True, slots=True)
class AlloyPrice:
    """What a kilogram of an alloy costs to buy again, by a price of a day.

    `metal` is empty where that is the alloy's own price, and says which pure metal it is the price of.
    """

    micro_per_kg: int
    quoted: DatedPrice
    working: Working
    metal: str = ""
    fineness: int = 0
    premium: Premium = Premium()

    @property
    def day(self) -> date:
        return self.quoted.day

    def at(self, price_micro: int) -> int:
        """A kilogram of it, were the price that it follows from this many millionths for the same unit."""
        exact = replace(self.quoted, price_micro=price_micro).exact_per_kg
        return round_half_up(exact_alloy_per_kg(exact, self.fineness, self.premium) if self.metal else exact)


def compute_alloy_price(fine: DatedPrice, metal: str, fineness: int, premium: Premium) -> AlloyPrice:
    """Fine grams of a kilogram at the price of pure metal, and the maker's premium; rounded once, at the end.

    `fineness` is in parts per thousand.
    """
    exact = exact_alloy_per_kg(fine.exact_per_kg, fineness, premium)
    per_gram = _per_gram(fine.exact_per_kg)
    fine_cost = fine.exact_per_kg * fineness / PER_MILLE_WHOLE
    steps = [
        Step(f"a gram of pure {metal}", per_gram),
        Step(f"fine metal in a gram: {per_gram} × {fineness} ÷ 1000", _per_gram(fine_cost)),
    ]
    if premium.share_pct100:
        share = print_percent(premium.share_pct100)
        more = fine_cost * premium.share_pct100 / PCT100_WHOLE
        steps.append(Step(f"the maker's {share} of it", _per_gram(more)))
    if premium.micro_per_kg:
        steps.append(Step("the maker's sum on each gram", _per_gram(Fraction(premium.micro_per_kg))))
    steps.append(Step("together", _per_gram(exact)))
    working = make_working(
        "A gram to buy again",
        "the fine metal in it at the price of pure metal, and what the maker asks on top",
        Given(f"pure {metal}", fine.words, f"the price of {_day(fine.day)}"),
        Given("fineness", f"{fineness} of 1000", "the alloy's own page"),
        *steps,
        source=Source.COMMON_PRACTICE,
    )
    return AlloyPrice(round_half_up(exact), fine, working, metal, fineness, premium)


def exact_alloy_per_kg(fine_per_kg: Fraction, fineness: int, premium: Premium) -> Fraction:
    """A kilogram of an alloy by a kilogram of its pure metal, exactly."""
    share = Fraction(PCT100_WHOLE + premium.share_pct100, PCT100_WHOLE)
    return fine_per_kg * fineness / PER_MILLE_WHOLE * share + premium.micro_per_kg


def exact_fine_per_kg(alloy_per_kg: Fraction, fineness: int, premium: Premium) -> Fraction:
    """The other way: what pure metal costs where the alloy costs this. Raises ZeroDivisionError without fineness."""
    share = Fraction(PCT100_WHOLE + premium.share_pct100, PCT100_WHOLE)
    return (alloy_per_kg - premium.micro_per_kg) * PER_MILLE_WHOLE / fineness / share


def take_own_price(own: DatedPrice) -> AlloyPrice:
    """What somebody was told for the alloy itself."""
    working = make_working(
        "A gram to buy again",
        "the price that you wrote down for this alloy",
        Given("its own price", own.words, f"the price of {_day(own.day)}"),
        Step("a gram", _per_gram(own.exact_per_kg)),
    )
    return AlloyPrice(compute_price_per_kg(own.price_micro, own.per_unit), own, working)


def requote(price: AlloyPrice | None, quoted: DatedPrice) -> AlloyPrice:
    """The same by another price: of its pure metal where it follows from that, else of the alloy itself."""
    if price is None or not price.metal:
        return take_own_price(quoted)
    return compute_alloy_price(quoted, price.metal, price.fineness, price.premium)


def choose_alloy_price(own: DatedPrice | None, fine: AlloyPrice | None) -> AlloyPrice | None:
    """The newer of the two; the alloy's own on the same day, for it is what a maker really asked."""
    if own is not None and (fine is None or own.day >= fine.day):
        return take_own_price(own)
    return fine


def say_age(metal: str, day: date, today: date, limit_days: int) -> str:
    """That the price of a metal is older than the studio's limit, in a sentence; "" while it is not."""
    days = (today - day).days
    if days <= limit_days:
        return ""
    return f"The price of {metal} is of {_day(day)}, {days} days old: more than your limit of {limit_days}."


def _per_gram(micro_per_kg: Fraction) -> str:
    # Billionths of the currency for a gram: six decimals tell cheap metals too.
    return print_decimal(round_half_up(micro_per_kg), 9, most=6, least=4)


def _day(day: date) -> str:
    return print_date(day)
