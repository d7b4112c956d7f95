"""A quote's sums: castings to make so that enough come out, the range its cost lies in, and flasks.

Money is millionths of the currency, masses milligrams, times seconds; scatters are in squares of these.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from inventory.core.credibility import Blend, root
from studio.kit.printing import print_decimal, print_money, print_percent
from studio.kit.units import MG_PER_KG, PCT100_WHOLE, SECONDS_PER_HOUR, round_half_up
from studio.kit.working import Given, Step, Working, make_working

from .design_cost import Making

Z_TENTH = Fraction(12_816, 10_000)
"""One in ten lies further out on one side: the standard normal at 0.9, 1.2816."""
MOST_FAILING_PCT100 = 9_000
SAID_NORMAL = "normal approximation; Bühlmann credibility for what is not known of a design's mean"


@dataclass(frozen=True, slots=True)
class Doubt:
    """How far the cost of a piece may lie from what is expected, in squared millionths of the currency.

    `piece` is from one piece to the next, `mean` what is not known of the design's own mean: that does not even out
    over many pieces.
    """

    piece: Fraction = Fraction(0)
    mean: Fraction = Fraction(0)


def compute_doubt(making: Making, mass: Blend, seconds: Blend | None) -> Doubt | None:
    """How far masses and times differ, each times what a gram and a second cost; None where nothing tells either.

    Without `seconds`, none of its own time is paid for.
    """
    a_mg = making.rate * (1 + making.lately.loss_share) / MG_PER_KG + making.lately.micro_per_mg
    a_second = Fraction(making.hourly_micro + making.overhead_micro, SECONDS_PER_HOUR)
    known = [
        (rate, blend)
        for rate, blend in ((a_mg, mass), (a_second, seconds))
        if blend is not None and blend.variance is not None
    ]
    if not known:
        return None
    piece = sum((rate**2 * (blend.variance or 0) for rate, blend in known), Fraction(0))
    mean = sum((rate**2 * (blend.doubt or 0) for rate, blend in known), Fraction(0))
    return Doubt(piece, mean)


def share_failing(failed_pct100: int) -> Fraction:
    """Never all of it: of nothing that comes out no number can be told."""
    return Fraction(min(failed_pct100, MOST_FAILING_PCT100), PCT100_WHOLE)


def count_castings(quantity: int, failed_pct100: int) -> int:
    """How many to cast so that on average enough come out: the quantity over the share that does, rounded up."""
    return ceil(quantity / (1 - share_failing(failed_pct100)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """So many pieces of one design; `metal_micro` and `work_micro` are of one. One that fails gives its metal back."""

    label: str
    quantity: int
    metal_micro: int
    work_micro: int
    failed_pct100: int = 0
    doubt: Doubt | None = None

    @property
    def failing(self) -> Fraction:
        return share_failing(self.failed_pct100)

    @property
    def castings(self) -> int:
        return count_castings(self.quantity, self.failed_pct100)

    @property
    def each(self) -> Fraction:
        return self.metal_micro + self.work_micro / (1 - self.failing)

    @property
    def expected(self) -> Fraction:
        return self.quantity * self.each

    @property
    def scatter(self) -> Fraction:
        """Pieces differ, the mean is not known for sure, and so many fail before enough are good.

        The number that fails until n are good scatters by n f / (1 - f)^2 (negative binomial).
        """
        doubt = self.doubt or Doubt()
        failing = self.failing
        failures = self.quantity * failing / (1 - failing) ** 2 * self.work_micro**2
        return self.quantity * doubt.piece + self.quantity**2 * doubt.mean + failures


@dataclass(frozen=True, slots=True)
class Range:
    """What a quote costs: nine times in ten more than `low`, nine in ten less than `high`, `middle` on average.

    `low` and `high` are None where nothing tells how far it may differ.
    """

    middle_micro: int
    low_micro: int | None
    high_micro: int | None
    working: Working


def compute_range(lots: Sequence[Lot]) -> Range:
    """P10 to P90 by the normal approximation; designs are taken as independent of one another."""
    middle = round_half_up(sum((lot.expected for lot in lots), Fraction(0)))
    scatter = sum((lot.scatter for lot in lots), Fraction(0))
    is_told = any(lot.doubt is not None for lot in lots)
    spread = root(scatter)
    away = round_half_up(spread * Z_TENTH)
    low, high = (max(middle - away, 0), middle + away) if is_told else (None, None)
    lines: list[Given | Step] = []
    for lot in lots:
        lines.append(
            Given(f"{lot.label}, castings that fail", print_percent(lot.failed_pct100), "what it has learnt")
        )
    for lot in lots:
        each = print_money(round_half_up(lot.each), 4)
        lines.append(
            Step(f"{lot.quantity} of {lot.label}, {each} each", print_money(round_half_up(lot.expected), 4))
        )
    lines.append(Step("expected", print_money(middle, 4)))
    notes = []
    if is_told:
        lines += [
            Step(f"spread of {lot.label}, one standard deviation", print_money(root(lot.scatter), 4))
            for lot in lots
        ]
        z = print_decimal(int(Z_TENTH * 10_000), 4, most=4)
        lines.append(Step("spread together: the root of their squares", print_money(spread, 4)))
        lines.append(Step(f"one in ten lies {z} spreads below, and one above", print_money(away, 4)))
        notes.append("A piece that fails gives its metal back and costs its work again.")
    else:
        notes.append("No pieces of any design tell how far the cost may differ, so no range is known.")
    told = print_money(middle)
    if low is not None:
        told = f"{print_money(low)} to {print_money(high)}"
    return Range(
        middle,
        low,
        high,
        make_working(
            "What it costs",
            "pieces times what one is expected to cost; how far off that may be follows from how pieces differ, "
            "from what is not known of their means, and from how many may fail",
            *lines,
            result=told,
            source=SAID_NORMAL,
            notes=notes,
        ),
    )


@dataclass(frozen=True, slots=True)
class Flasks:
    """How many flasks, and how many castings of each design stand in each of them."""

    castings: tuple[tuple[int, ...], ...]
    working: Working

    @property
    def count(self) -> int:
        return len(self.castings)


def share_flasks(lots: Sequence[tuple[str, int, int]]) -> Flasks:
    """Spread (label, castings, how many fill a flask) over as few flasks as hold them, as evenly as whole castings go.

    Each design takes its share of a flask. Raises ValueError where nothing fits a flask.
    """
    if any(fits < 1 for _, _, fits in lots):
        raise ValueError("a flask holds at least one casting")
    full = sum((Fraction(castings, fits) for _, castings, fits in lots), Fraction(0))
    count = max(-(-full.numerator // full.denominator), 1)
    rows = [
        [castings // count + (place < castings % count) for _, castings, _ in lots] for place in range(count)
    ]
    steps = [
        Step(f"{label}: {castings} ÷ {fits}", _flasks(Fraction(castings, fits)))
        for label, castings, fits in lots
    ]
    working = make_working(
        "Flasks",
        "castings over how many of them fill a flask, added up and rounded up",
        *steps,
        Step("together", f"{_flasks(full)}, so {count}"),
    )
    return Flasks(tuple(tuple(row) for row in rows if any(row)), working)


def _flasks(exact: Fraction) -> str:
    return print_decimal(round_half_up(exact * 100), 2, most=2)
