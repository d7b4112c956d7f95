"""What is to be expected of a design: its own mean blended with a wider one, by how much its own can be trusted.

Own mean against the group's by Bühlmann: weight n / (n + k), k the variance within a design over that between designs.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import isqrt

from studio.kit.printing import print_decimal
from studio.kit.units import PCT100_WHOLE, round_half_up
from studio.kit.working import Given, Source, Step, Working, make_working

STARTING_K = Fraction(5)
"""What a wider mean counts for, in pieces, while nobody can tell how far designs differ: a starting value."""

BUHLMANN = "Bühlmann credibility: weight n ÷ (n + k)"


@dataclass(frozen=True, slots=True)
class Tally:
    """So many figures of one kind, their sum and the sum of their squares."""

    count: int = 0
    total: Fraction = Fraction(0)
    squares: Fraction = Fraction(0)

    @property
    def mean(self) -> Fraction:
        """0 of none."""
        return self.total / self.count if self.count else Fraction(0)

    @property
    def scatter(self) -> Fraction:
        """The sum of squared distances from their mean."""
        return self.squares - self.total**2 / self.count if self.count else Fraction(0)

    def scaled(self, factor: Fraction | int) -> "Tally":
        return Tally(self.count, self.total * factor, self.squares * factor * factor)


def tally(figures: Iterable[Fraction | int]) -> Tally:
    count, total, squares = 0, Fraction(0), Fraction(0)
    for figure in figures:
        count, total, squares = count + 1, total + figure, squares + figure * figure
    return Tally(count, total, squares)


@dataclass(frozen=True, slots=True)
class Wider:
    """All designs of a studio together: the mean of their figures, and how far these differ within and between designs.

    `within` None: no design has two figures; `between` None: fewer than two designs have any, or `within` is None.
    """

    count: int = 0
    groups: int = 0
    mean: Fraction = Fraction(0)
    within: Fraction | None = None
    between: Fraction | None = None

    def scaled(self, factor: Fraction | int) -> "Wider":
        square = factor * factor
        return Wider(
            self.count,
            self.groups,
            self.mean * factor,
            None if self.within is None else self.within * square,
            None if self.between is None else self.between * square,
        )


def compute_wider(tallies: Iterable[Tally]) -> Wider:
    """The unbiased estimates for designs of unequal numbers (Bühlmann and Straub, each piece with weight 1).

    within = sum of the scatters / sum(n - 1); between = (sum n (mean - whole)^2 - (r - 1) within) / (N - sum n^2 / N),
    not below zero.
    """
    groups = [one for one in tallies if one.count]
    count = sum(one.count for one in groups)
    if not count:
        return Wider()
    mean = sum((one.total for one in groups), Fraction(0)) / count
    spare = sum(one.count - 1 for one in groups)
    within = sum((one.scatter for one in groups), Fraction(0)) / spare if spare else None
    between = None
    if within is not None and len(groups) > 1:
        apart = sum((one.count * (one.mean - mean) ** 2 for one in groups), Fraction(0))
        scale = count - Fraction(sum(one.count**2 for one in groups), count)
        between = max((apart - (len(groups) - 1) * within) / scale, Fraction(0))
    return Wider(count, len(groups), mean, within, between)


@dataclass(frozen=True, slots=True)
class Blend:
    """What is expected of one more piece, in whole small units, what it rests on, and how sure it is.

    `prior` None: nothing wider is known; `k` None: designs do not differ, so the wider mean is taken. `variance` is
    that of one piece about the design's mean and `doubt` that of the mean itself, both in squared small units,
    None where nothing tells.
    """

    title: str
    tell: Callable[[int], str]
    own: Tally
    prior: Fraction | None
    prior_words: str
    k: Fraction | None
    k_words: str
    weight: Fraction
    variance: Fraction | None
    doubt: Fraction | None

    @property
    def is_known(self) -> bool:
        return bool(self.own.count) or self.prior is not None

    @property
    def mean(self) -> Fraction:
        return self.weight * self.own.mean + (1 - self.weight) * (self.prior or 0)

    @property
    def value(self) -> int:
        return round_half_up(self.mean)

    @property
    def words(self) -> str:
        return self.tell(self.value) if self.is_known else ""

    @property
    def count(self) -> int:
        """How many own pieces it rests on."""
        return self.own.count

    @property
    def spread(self) -> int | None:
        """The standard deviation of its own pieces; None of fewer than two."""
        if self.own.count < 2:
            return None
        return root(self.own.scatter / (self.own.count - 1))

    @property
    def spread_words(self) -> str:
        return "" if self.spread is None else self.tell(self.spread)

    @property
    def working(self) -> Working | None:
        """None where nothing is known."""
        if not self.is_known:
            return None
        percent = print_decimal(round_half_up(self.weight * PCT100_WHOLE), 2, most=2) + " %"
        own, prior = (
            self.tell(round_half_up(self.own.mean)),
            self.tell(round_half_up(self.prior or Fraction(0))),
        )
        lines: list[Given | Step] = [Given("its own pieces", str(self.count), "your own record")]
        if self.count:
            lines.append(Given("their mean", own, "your own record"))
        if self.spread is not None:
            lines.append(Given("their spread, one standard deviation", self.spread_words, "your own record"))
        if self.prior is None:
            return make_working(self.title, "the mean of its own pieces", *lines, result=self.words)
        lines.append(Given("beside it", prior, self.prior_words))
        k = "without end" if self.k is None else print_decimal(round_half_up(self.k * 100), 2, most=2)
        lines.append(Given("k", k, self.k_words))
        sum_ = f"{self.count} ÷ ({self.count} + {k})"
        lines.append(Step(f"weight of its own mean: {sum_}", percent))
        if self.count:
            lines.append(Step(f"{percent} of {own} and the rest of {prior}", self.words))
        return make_working(
            self.title,
            "its own mean times n ÷ (n + k), and what stands beside it times the rest; n counts its own pieces",
            *lines,
            result=self.words,
            source=BUHLMANN,
        )


def compute_blend(
    title: str,
    tell: Callable[[int], str],
    own: Tally,
    wider: Wider,
    usual: int | Fraction | None = None,
) -> Blend:
    """One design's figure: its own mean blended with its usual one, if that was written, else with the studio's.

    k is the studio's variance within a design over that between designs, where it has two designs and two pieces of
    one; beside a written figure, and before that is known, STARTING_K.
    """
    prior, words = (
        (Fraction(usual), "what you wrote as usual") if usual is not None else (wider.mean, "all designs")
    )
    if usual is None and not wider.count:
        return Blend(title, tell, own, None, "", None, "", Fraction(1), _own_variance(own), None)
    k: Fraction | None = STARTING_K
    k_words: str = Source.STARTING
    if usual is None and wider.within is not None and wider.between is not None:
        k = wider.within / wider.between if wider.between else None
        k_words = "how far pieces of a design differ, over how far designs differ"
        if k is None:
            k_words = "designs differ no more than their pieces do"
    weight = Fraction(0) if k is None or not own.count else Fraction(own.count) / (own.count + k)
    # Large designs vary more than small ones: from three pieces on its own variance tells more than that of all.
    variance = _own_variance(own) if own.count > 2 or wider.within is None else wider.within
    doubt = None
    if variance is not None:
        # Of the mean: between (1 - weight); by own pieces alone where nobody knows how far designs differ.
        between = variance / STARTING_K if wider.between is None or usual is not None else wider.between
        doubt = between * (1 - weight)
    return Blend(title, tell, own, prior, words, k, k_words, weight, variance, doubt)


def _own_variance(own: Tally) -> Fraction | None:
    return own.scatter / (own.count - 1) if own.count > 1 else None


def root(square: Fraction) -> int:
    """The square root to the whole small unit, half up."""
    # floor(2 sqrt(x)) = isqrt(floor(4 x)), and half up is (that + 1) // 2.
    return (isqrt(4 * square.numerator // square.denominator) + 1) // 2
