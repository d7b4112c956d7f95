"""Failed and good casts in a table of four: how often chance alone parts them so, and the odds with their interval.

Chances are exact Fractions; nothing here is a float.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction
from math import comb

from studio.kit.printing import NOTHING, SPACE, print_decimal
from studio.kit.units import round_half_up
from studio.kit.working import Given, Step, Working, make_working

from .control_chart import LEAST_CASTS

FISHER = "R. A. Fisher's exact test, two-sided: tables no likelier than the one seen (1934; from memory)"
CONDITIONAL = (
    "J. Cornfield 1956: the exact interval of the odds ratio, given how many casts there were of each kind "
    "(from memory)"
)
#: The interval leaves out so much at each end: together one in twenty, as is usual.
END = Fraction(1, 40)
#: Longer numbers nobody works again by hand.
MOST_WAYS = 10**15
#: Odds beyond these are told as their ends.
LEAST_ODDS, MOST_ODDS = Decimal("0.000001"), Decimal(1_000_000)
_FINE_ENOUGH = Decimal("1.0002")


@dataclass(frozen=True, slots=True)
class Split:
    """Casts in two by something in their record: how many failed and how many were good, with it and without."""

    failed_with: int
    good_with: int
    failed_without: int
    good_without: int

    @property
    def cases(self) -> int:
        """Casts with it."""
        return self.failed_with + self.good_with

    @property
    def others(self) -> int:
        """Casts without it."""
        return self.failed_without + self.good_without

    @property
    def failed(self) -> int:
        return self.failed_with + self.failed_without

    @property
    def count(self) -> int:
        return self.cases + self.others

    @property
    def tells(self) -> bool:
        """Whether there are casts enough, of both kinds, and both failed and good ones."""
        return self.count >= LEAST_CASTS and 0 < self.failed < self.count and bool(self.cases and self.others)


@dataclass(frozen=True, slots=True)
class Odds:
    """How many times the odds of failing with something are those without; `high` and `ratio` None: without end."""

    ratio: Fraction | None
    low: Decimal
    high: Decimal | None
    working: Working

    @property
    def text(self) -> str:
        """ "12 (0.50 to 1,200)" """
        return f"{print_odds(self.ratio)} ({print_odds(self.low)} to {print_odds(self.high)})"


def compute_chance(split: Split) -> tuple[Fraction, Working]:
    """How often chance alone parts as many failed casts so unevenly, or more so, in either direction.

    Raises ValueError for no casts.
    """
    if not split.count:
        raise ValueError("no casts were counted")
    least, ways = _list_ways(split)
    seen = ways[split.failed_with - least]
    unlikely, everything = sum(one for one in ways if one <= seen), sum(ways)
    chance = Fraction(unlikely, everything)
    lines = [
        Step(
            f"ways in which the {split.failed} failed can fall on {split.count} casts",
            f"{everything:,}",
        ),
        Step("of them no likelier than what was seen", f"{unlikely:,}"),
        Step(f"{unlikely:,} ÷ {everything:,}", print_chance(chance)),
    ]
    if everything > MOST_WAYS:
        lines = [
            Step("of all ways in which the failed can fall, no likelier than what was seen", lines[2].result)
        ]
    working = make_working(
        "How often chance alone does this",
        "ways to pick the failed casts that part them as unevenly as was seen or more so, over all ways to pick them",
        *_tell_counts(split),
        *lines,
        source=FISHER,
        notes=("It tells what goes together, not what caused what.",),
    )
    return chance, working


def _list_ways(split: Split) -> tuple[int, list[int]]:
    """The fewest failed casts that may have it, and in how many ways so many do, one more, and so on."""
    cases, others, failed = split.cases, split.others, split.failed
    least, most = max(0, failed - others), min(failed, cases)
    ways = [comb(cases, least) * comb(others, failed - least)]
    for many in range(least, most):
        more = ways[-1] * (cases - many) * (failed - many)
        ways.append(more // ((many + 1) * (others - failed + many + 1)))
    return least, ways


def compute_odds(split: Split) -> Odds:
    """Odds with it over odds without, and the exact interval in which 95 of 100 such intervals hold the true one.

    Raises ValueError where casts of one kind are missing.
    """
    if not (split.cases and split.others and 0 < split.failed < split.count):
        raise ValueError("odds need casts of both kinds, failed and good")
    above, below = split.failed_with * split.good_without, split.good_with * split.failed_without
    ratio = Fraction(above, below) if below else None
    least, ways = _list_ways(split)
    place = split.failed_with - least
    low = _find_odds(ways, place, from_above=True) if place else Decimal(0)
    high = _find_odds(ways, place, from_above=False) if place < len(ways) - 1 else None
    failed, good, failed_without, good_without = _cells(split)
    times = Step(
        f"odds with it over odds without: {failed} × {good_without} ÷ ({good} × {failed_without})",
        print_odds(ratio),
    )
    without_end = Step("none failed without it, or none was good with it: the odds are", print_odds(ratio))
    working = make_working(
        "Odds of failing, with it against without",
        "failed for each good cast with it, over failed for each good cast without it",
        *_tell_counts(split),
        times if below else without_end,
        Step("were it less than this, so many failed with it would be rarer than 1 in 40", print_odds(low)),
        Step("were it more than this, so few failed with it would be rarer than 1 in 40", print_odds(high)),
        result=f"{print_odds(ratio)} ({print_odds(low)} to {print_odds(high)})",
        source=CONDITIONAL,
    )
    return Odds(ratio, low, high, working)


def _cells(split: Split) -> tuple[int, int, int, int]:
    return split.failed_with, split.good_with, split.failed_without, split.good_without


def _tell_counts(split: Split) -> Iterator[Given]:
    names = ("failed with it", "good with it", "failed without it", "good without it")
    for name, many in zip(names, _cells(split), strict=True):
        yield Given(name, str(many), "the record of the casts")


def _find_odds(ways: Sequence[int], place: int, from_above: bool) -> Decimal:
    """The odds at which one end of the interval lies, by halving; `place` is what was seen among the `ways`."""
    with localcontext() as context:
        # Enough for the digits that are shown, and ten times as fast as the usual precision.
        context.prec = 18
        most = max(ways)
        weights = [Decimal(one) / most for one in ways]
        low, high = LEAST_ODDS, MOST_ODDS
        while high / low > _FINE_ENOUGH:
            middle = (low * high).sqrt()
            before, after = _weigh(weights, place + (not from_above), middle)
            tail, rest = (after, before) if from_above else (before, after)
            is_rare = tail * (END.denominator - END.numerator) < rest * END.numerator
            # Higher odds put more of the failed on the side with it.
            low, high = (middle, high) if is_rare == from_above else (low, middle)
        return (low * high).sqrt()


def _weigh(weights: Sequence[Decimal], place: int, odds: Decimal) -> tuple[Decimal, Decimal]:
    """What lies before a place and from it on, each way weighed by the odds to the power of its own place."""
    before = after = Decimal(0)
    power = Decimal(1)
    for number, weight in enumerate(weights):
        if number < place:
            before += weight * power
        else:
            after += weight * power
        power *= odds
    return before, after


def print_chance(chance: Fraction | None, decimals: int = 2) -> str:
    """ "10.26 %"; what rounds to nothing is "under 0.01 %"; a dash for none."""
    if chance is None:
        return NOTHING
    least = Fraction(1, 10 ** (decimals + 2))
    if 0 < chance < least:
        return f"under {print_decimal(1, decimals, most=decimals)}{SPACE}%"
    return f"{print_decimal(round_half_up(chance / least), decimals, most=decimals, least=decimals)}{SPACE}%"


def print_odds(odds: Fraction | Decimal | None) -> str:
    """ "12.0", "0.50", "1,200"; without end where there is none."""
    if odds is None:
        return "without end"
    if odds and odds < Decimal("0.01"):
        return "under 0.01"
    if odds >= MOST_ODDS * Decimal("0.99"):
        return f"over {int(MOST_ODDS):,}"
    decimals = 2 if odds < 10 else 1 if odds < 100 else 0
    return print_decimal(
        round_half_up(Fraction(odds) * 10**decimals), decimals, most=decimals, least=decimals
    )
