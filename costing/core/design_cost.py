"""What one more piece of a design costs, before it is cast: its own metal and time, the rest as casts cost lately.

Masses are milligrams, times seconds, money millionths of the currency.
"""

from dataclasses import dataclass, field
from fractions import Fraction

from costing.core.wanted import CostParts
from studio.kit.printing import SPACE, print_milligrams, print_money, print_seconds
from studio.kit.units import MG_PER_KG, SECONDS_PER_HOUR, round_half_up
from studio.kit.working import Given, Step, Working, make_working


@dataclass(frozen=True, slots=True, kw_only=True)
class Lately:
    """What the last casts used together, so that a piece to come can be charged alike.

    `by_gram_micro` is shared by the gram as cast, `each_micro` and `cast_seconds` by the piece. `lost_mg` is what was
    lost as usual while `good_mg` came out.
    """

    casts: int = 0
    pieces: int = 0
    good_mg: int = 0
    lost_mg: int = 0
    by_gram_micro: int = 0
    each_micro: int = 0
    cast_seconds: int = 0

    @property
    def loss_share(self) -> Fraction:
        return Fraction(max(self.lost_mg, 0), self.good_mg) if self.good_mg else Fraction(0)

    @property
    def micro_per_mg(self) -> Fraction:
        return Fraction(self.by_gram_micro, self.good_mg) if self.good_mg else Fraction(0)

    @property
    def micro_each(self) -> Fraction:
        return Fraction(self.each_micro, self.pieces) if self.pieces else Fraction(0)

    @property
    def seconds_each(self) -> int:
        return round_half_up(Fraction(self.cast_seconds, self.pieces)) if self.pieces else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """One piece that is to be made: what it weighs and takes, and at what rates.

    `book_micro_per_kg` is what its metal costs in the studio's own lots, `today_micro_per_kg` what it costs to buy
    again; None where nobody knows. `taken` are findings and stones, with the cost of what one piece takes. Those of
    its own metal are worth `finding_mg` of its alloy, and `finding_micro` of their cost goes with its price.
    """

    cast_mg: int
    finished_mg: int
    own_seconds: int = 0
    pattern_micro: int = 0
    taken: tuple[tuple[str, int], ...] = ()
    finding_mg: int = 0
    finding_micro: int = 0
    book_micro_per_kg: Fraction | None = None
    today_micro_per_kg: int | None = None
    hourly_micro: int = 0
    overhead_micro: int = 0
    lately: Lately = field(default_factory=Lately)

    @property
    def metal_mg(self) -> int:
        """What is bought for it: what stays in it, and its share of what is usually lost."""
        return round_half_up(self.finished_mg * (1 + self.lately.loss_share))

    @property
    def again_mg(self) -> int:
        """What is bought again at a price of its metal: that, and the metal in its findings."""
        return self.metal_mg + self.finding_mg

    @property
    def rate(self) -> Fraction:
        """Of a kilogram of its metal as the cost counts it: what it cost, else what it costs to buy."""
        if self.book_micro_per_kg is not None:
            return self.book_micro_per_kg
        return Fraction(self.today_micro_per_kg or 0)

    @property
    def seconds(self) -> int:
        return self.own_seconds + self.lately.seconds_each


@dataclass(frozen=True, slots=True)
class DesignCost:
    """The cost of one piece in the parts that price rules tell apart, line by line, and how it came about."""

    making: Making
    parts: CostParts
    lines: tuple[tuple[str, int], ...]
    working: Working

    @property
    def total_micro(self) -> int:
        return self.parts.cost_micro


def compute_design_cost(making: Making, label: str = "One piece") -> DesignCost:
    """What one piece costs: its metal with the usual loss, its pattern and findings, its share of what casts use, time.

    Each line is rounded once, half up.
    """
    lately = making.lately
    metal_micro = round_half_up(making.metal_mg * making.rate / MG_PER_KG)
    today_micro = None
    if making.today_micro_per_kg is not None:
        today_micro = round_half_up(Fraction(making.again_mg * making.today_micro_per_kg, MG_PER_KG))
    shared_micro = round_half_up(making.cast_mg * lately.micro_per_mg + lately.micro_each)
    taken_micro = sum(micro for _, micro in making.taken)
    time_micro = round_half_up(Fraction(making.seconds * making.hourly_micro, SECONDS_PER_HOUR))
    overhead_micro = round_half_up(Fraction(making.seconds * making.overhead_micro, SECONDS_PER_HOUR))
    parts = CostParts(
        metal_micro=metal_micro + making.finding_micro,
        today_micro=today_micro,
        other_micro=shared_micro + making.pattern_micro + taken_micro - making.finding_micro,
        time_micro=time_micro,
        overhead_micro=overhead_micro,
        bench_seconds=making.seconds,
    )
    lines = (
        ("Metal, with what is usually lost", metal_micro),
        ("Pattern material", making.pattern_micro),
        ("Powder, kiln, wear and consumables", shared_micro),
        *making.taken,
        ("Time at the bench", time_micro),
        ("Overhead on time", overhead_micro),
    )
    shown = tuple((name, micro) for name, micro in lines if micro)
    return DesignCost(making, parts, shown, _work(making, label, shown, parts.cost_micro))


def _work(making: Making, label: str, lines: tuple[tuple[str, int], ...], total_micro: int) -> Working:
    lately, origin = making.lately, f"your last {making.lately.casts} casts"
    book = "the metal you have" if making.book_micro_per_kg is not None else "the price to buy it"
    rate = print_money(round_half_up(making.rate / 1000), 4)
    givens = [
        Given("as cast", print_milligrams(making.cast_mg), "the design"),
        Given("finished", print_milligrams(making.finished_mg), "the design"),
        Given("metal with its share of the usual loss", print_milligrams(making.metal_mg), origin),
        *(
            [Given("metal in its findings", print_milligrams(making.finding_mg), "the design")]
            if making.finding_mg
            else []
        ),
        Given("a gram of its metal", rate, book),
        Given("its own time", print_seconds(making.own_seconds), "the design"),
        Given("its share of the time on a cast", print_seconds(lately.seconds_each), origin),
        Given("an hour at the bench", print_money(making.hourly_micro), "your cost rules"),
    ]
    if lately.pieces:
        gram, each = round_half_up(lately.micro_per_mg * 1000), round_half_up(lately.micro_each)
        givens.append(Given("powder and the like, for a gram as cast", print_money(gram, 4), origin))
        givens.append(Given("kiln, wear and the like, for a piece", print_money(each, 4), origin))
    steps = [Step(name, print_money(micro, 4)) for name, micro in lines]
    return make_working(
        f"{label}, before it is cast",
        "its metal and time by the design, findings at what they cost, and of all that a flask uses together as much "
        "as a piece and a gram took lately",
        *givens,
        *steps,
        Step("together", f"{print_money(total_micro, 4)}{SPACE}each"),
    )
