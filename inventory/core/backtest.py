"""How the reorder point would have served in the studio's own past, and how far off the rate was."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from studio.kit.printing import print_about, print_percent, print_quantity
from studio.kit.units import PCT100_WHOLE, round_half_up
from studio.kit.working import Given, Step, Working, make_working, origin_of

from .demand import compute_enough, follow_lumpy_rate, sum_weeks
from .learning_use import LEAST_USES, LEAST_WEEKS

# Weeks are told apart in a hundred steps of the largest: a point is needed for each week of a year.
_STEPS = 100


@dataclass(frozen=True, slots=True)
class Window:
    """Some weeks of the past: the point as it would have been told before them, the rate then, and what they took."""

    point: int
    a_week: Fraction
    taken: int


@dataclass(frozen=True, slots=True)
class Backtest:
    """Windows of `weeks` weeks, each judged by the weeks before it alone; they overlap."""

    windows: tuple[Window, ...]
    weeks: int
    certainty_pct100: int
    unit: str

    @property
    def enough(self) -> int:
        return sum(window.taken <= window.point for window in self.windows)

    @property
    def enough_pct100(self) -> int:
        return round_half_up(Fraction(self.enough * PCT100_WHOLE, len(self.windows)))

    @property
    def off(self) -> Fraction:
        """How far the rate was off a week's mean of a window, on average."""
        off = sum(abs(one.a_week - Fraction(one.taken, self.weeks)) for one in self.windows)
        return Fraction(off) / len(self.windows)

    @property
    def sentence(self) -> str:
        count = len(self.windows)
        times = f"{self.enough} of {count}" if self.enough < count else f"all {count}"
        return (
            f"In your own past it would have been enough {times} times ({print_percent(self.enough_pct100)}; "
            f"{print_percent(self.certainty_pct100)} was asked), and the rate was off by "
            f"{print_about(self.off, self.unit)} a week."
        )

    @property
    def working(self) -> Working:
        """Counted out, with the sums behind the share and how far off the rate was."""
        count, unit = len(self.windows), self.unit
        told = round_half_up(sum((one.a_week for one in self.windows), Fraction(0)) / count)
        taken = round_half_up(Fraction(sum(one.taken for one in self.windows), count * self.weeks))
        return make_working(
            "How well it would have served",
            f"for each week behind you that has {LEAST_WEEKS} weeks and {LEAST_USES} uses before it: the point as "
            f"those weeks alone would have told it, against what the next {self.weeks} weeks took",
            Given("looked at", f"{count} times {self.weeks} weeks", "your own entries"),
            Given("certainty wanted", print_percent(self.certainty_pct100), origin_of(self.certainty_pct100)),
            Step(f"enough: {self.enough} ÷ {count}", print_percent(self.enough_pct100)),
            Step("a week was told to take, on average", print_quantity(told, unit)),
            Step("a week took, on average", print_quantity(taken, unit)),
            Step("the rate was off by, above or below, on average", print_about(self.off, unit)),
            result=print_percent(self.enough_pct100),
            notes=(
                "The times overlap, so a few heavy weeks may be counted several times. Plans and seasons are left out.",
            ),
        )


def compute_backtest(
    weekly: Sequence[int], weeks: int, certainty_pct100: int, unit: str = "mass"
) -> Backtest | None:
    """Judge every window of so many weeks by those before it; None where there is no window yet."""
    found = []
    for place, rate in enumerate(follow_lumpy_rate(weekly), start=1):
        if place + weeks > len(weekly):
            break
        if place >= LEAST_WEEKS and rate.uses >= LEAST_USES:
            step = max(1, max(weekly[:place]) // _STEPS)
            point = compute_enough([sum_weeks(weekly[:place], weeks, step)], certainty_pct100)
            found.append(Window(point, rate.unbiased, sum(weekly[place : place + weeks])))
    return Backtest(tuple(found), weeks, certainty_pct100, unit) if found else None
