"""What should be left of a price by a rule: from the parts of a cost, the metal of today and the studio's failures.

Money is millionths of the currency. Each step starts from what the one before it shows, to four decimals.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from costing.core.price import (
    MetalAt,
    PriceRule,
    Rule,
    as_shown,
    check_price_rule,
    factor_of,
    print_shown,
    say_rule_value,
)
from studio.kit.printing import print_decimal, print_minutes, print_money
from studio.kit.units import PCT100_WHOLE, SECONDS_PER_HOUR, SECONDS_PER_MINUTE, divide_half_up, round_half_up
from studio.kit.working import Given, Step, Working, make_working, origin_of


@dataclass(frozen=True, slots=True, kw_only=True)
class CostParts:
    """What a thing costs, in the parts that rules tell apart.

    `metal_micro` is its own metal and its share of the normal loss at cost, `today_micro` the same grams bought
    again, None where nobody knows.
    """

    metal_micro: int = 0
    today_micro: int | None = None
    other_micro: int = 0
    time_micro: int = 0
    overhead_micro: int = 0
    bench_seconds: int = 0

    @property
    def cost_micro(self) -> int:
        """With metal at what it cost."""
        return self.metal_micro + self._rest

    @property
    def cost_today_micro(self) -> int:
        """With metal bought again, where that is known."""
        return self._rest + (self.metal_micro if self.today_micro is None else self.today_micro)

    @property
    def _rest(self) -> int:
        return self.other_micro + self.time_micro + self.overhead_micro

    def take_metal(self, at: MetalAt) -> int:
        if self.today_micro is None or at is MetalAt.BOOK:
            return self.metal_micro
        return self.today_micro if at is MetalAt.TODAY else max(self.metal_micro, self.today_micro)


@dataclass(frozen=True, slots=True)
class Failures:
    """What came to nothing in some time: casts that failed, and castings that were put back in the pot."""

    poured: int = 0
    failed: int = 0
    castings: int = 0
    put_back: int = 0

    @property
    def good_share(self) -> Fraction:
        """Of what is begun, the share that gets through both."""
        cast = Fraction(self.poured - self.failed, self.poured) if self.poured else Fraction(1)
        kept = Fraction(self.castings - self.put_back, self.castings) if self.castings else Fraction(1)
        return cast * kept

    @property
    def failed_pct100(self) -> int:
        return round_half_up((1 - self.good_share) * PCT100_WHOLE)


NO_FAILURES = Failures()


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What should be left once fees and tax are gone, or the sentence that says why nobody can tell."""

    rule: PriceRule
    parts: CostParts
    failed_pct100: int = 0
    metal: Fraction = Fraction(0)
    raised: tuple[Fraction, Fraction, Fraction] = (Fraction(0), Fraction(0), Fraction(0))
    by_rule: Fraction = Fraction(0)
    by_hours: Fraction = Fraction(0)
    problem: str = ""

    @property
    def micro(self) -> int:
        return round_half_up(max(self.by_rule, self.by_hours))

    @property
    def cost_micro(self) -> int:
        """The cost as the rule counts it."""
        return round_half_up(self.metal + sum(self.raised))

    @property
    def working(self) -> Working:
        return make_working(
            f"What should be left: {self.rule.label}",
            _FORMULAS[self.rule.rule],
            *_give(self),
            *_step(self),
            result=print_money(self.micro, 4),
            source=origin_of(self.rule.value_pct100),
        )


_FORMULAS = {
    Rule.MARGIN: "the cost divided by what the margin leaves of it",
    Rule.MULTIPLE: "the cost times the multiple",
    Rule.PARTS: "materials and time, each times its number, and overhead",
}


def compute_wanted(parts: CostParts, rule: PriceRule, failed_pct100: int = 0) -> Wanted:
    """What a rule wants to be left of a price.

    Failures raise all but the metal: (cost without metal) / (1 - share that fails), because the metal of a failed
    casting comes back. A floor for each hour at the bench replaces what the hours cost.
    """
    problem = check_price_rule(rule)
    counted = failed_pct100 if rule.counts_failures else 0
    if not problem and counted >= PCT100_WHOLE:
        problem = "Every casting failed: no price can pay for that. Leave failures out of the rule for now."
    if problem:
        return Wanted(rule=rule, parts=parts, problem=problem)
    good = Fraction(PCT100_WHOLE - counted, PCT100_WHOLE)
    metal = as_shown(Fraction(parts.take_metal(rule.metal)))
    other, time, overhead = (
        as_shown(Fraction(part) / good)
        for part in (parts.other_micro, parts.time_micro, parts.overhead_micro)
    )
    if rule.rule is Rule.PARTS:
        materials = as_shown((metal + other) * rule.value_pct100 / PCT100_WHOLE)
        by_rule = materials + as_shown(time * rule.time_pct100 / PCT100_WHOLE) + overhead + rule.added_micro
    else:
        by_rule = as_shown((metal + other + time + overhead) * factor_of(rule))
    by_hours = Fraction(0)
    if rule.least_per_hour_micro:
        hours = as_shown(Fraction(parts.bench_seconds * rule.least_per_hour_micro, SECONDS_PER_HOUR))
        by_hours = metal + other + overhead + hours
    return Wanted(
        rule=rule,
        parts=parts,
        failed_pct100=counted,
        metal=metal,
        raised=(other, time, overhead),
        by_rule=by_rule,
        by_hours=by_hours,
    )


def _give(wanted: Wanted) -> Iterator[Given]:
    parts, rule = wanted.parts, wanted.rule
    metal = {MetalAt.BOOK: "at what it cost", MetalAt.TODAY: "bought again", MetalAt.HIGHER: "the higher"}
    at = "at what it cost" if parts.today_micro is None else metal[rule.metal]
    yield Given(f"metal, {at}", print_shown(wanted.metal), "the cost of the piece")
    yield Given("other materials and wear", print_money(parts.other_micro, 4), "the cost of the piece")
    yield Given("time", print_money(parts.time_micro, 4), "the cost of the piece")
    yield Given("overhead", print_money(parts.overhead_micro, 4), "the cost of the piece")
    if wanted.failed_pct100:
        yield Given("castings that fail", _percent(wanted.failed_pct100), "your own record")
    if rule.least_per_hour_micro:
        minutes = print_minutes(divide_half_up(parts.bench_seconds, SECONDS_PER_MINUTE))
        yield Given("time at the bench", minutes, "bench notes")
        yield Given("at least for an hour", print_money(rule.least_per_hour_micro), "your own setting")


def _step(wanted: Wanted) -> Iterator[Step]:
    rule, parts, metal = wanted.rule, wanted.parts, wanted.metal
    other, time, overhead = wanted.raised
    rest = print_shown(other + time + overhead)
    if wanted.failed_pct100:
        whole = print_money(parts.cost_micro - parts.metal_micro, 4)
        yield Step(
            f"all but the metal, over what gets through: {whole} ÷ (100 % − {_percent(wanted.failed_pct100)})",
            rest,
        )
    if rule.rule is Rule.PARTS:
        by, for_time = say_rule_value(rule), print_decimal(rule.time_pct100, 4, most=4)
        yield Step(f"materials: ({print_shown(metal)} + {print_shown(other)}) × {by}")
        yield Step(f"time: {print_shown(time)} × {for_time}")
        added = f" + {print_money(rule.added_micro)}" if rule.added_micro else ""
        yield Step(f"together with overhead {print_shown(overhead)}{added}", print_shown(wanted.by_rule))
    else:
        cost = print_shown(metal + other + time + overhead)
        yield Step(f"cost: {print_shown(metal)} + {rest}", cost)
        sum_ = f"(100 % − {say_rule_value(rule)})" if rule.rule is Rule.MARGIN else say_rule_value(rule)
        yield Step(f"{cost} {'÷' if rule.rule is Rule.MARGIN else '×'} {sum_}", print_shown(wanted.by_rule))
    if rule.least_per_hour_micro:
        paid = print_shown(metal + other + overhead)
        yield Step(f"by the hour: {paid} and the hours", print_shown(wanted.by_hours))
        yield Step("the higher of the two", print_money(wanted.micro, 4))


def _percent(pct100: int) -> str:
    return print_decimal(pct100, 2, most=2) + " %"


def work_failures(found: Failures, days: int) -> Working:
    """How the share of castings that fail is read from the studio's own record."""
    steps = [
        Step(f"casts that came out: {found.poured - found.failed} of {found.poured} poured"),
        Step(f"castings kept: {found.castings - found.put_back} of {found.castings}"),
        Step("both: one times the other", _percent(PCT100_WHOLE - found.failed_pct100)),
        Step("so this much fails", _percent(found.failed_pct100)),
    ]
    return make_working(
        "Castings that fail",
        "the share of casts that came out, times the share of their castings that were not put back in the pot",
        Given("time looked at", f"{days} days", "your own setting"),
        *steps,
        source="your own record",
    )
