"""How the reorder point would have served in the studio's own past, and how far off the rate was."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from studio.kit.printing import print_about, print_percent, print_quantity, print_roughly
from studio.kit.units import PCT100_WHOLE, round_half_up
from studio.kit.working import Given, Step, Working, make_working, origin_of

from .demand import compute_enough, follow_lumpy_rate, sum_weeks
from .learning_use import LEAST_USES, LEAST_WEEKS

# Weeks are told apart in a hundred steps of the largest: a point is needed for each week of a year.
_STEPS = 100


@dataclass(frozen=True, slots=True)
class Window:
    """A week of the past with use: the point and the rate as they would have been told before it, what it used itself,
    and what the weeks on the road took after it."""

    point: int
    a_week: Fraction
    used: int
    taken: int

    @property
    def enough(self) -> int:
        """So much of the use, unit by unit, could have taken stock to the point, and the rest would have lasted."""
        return min(max(self.point - self.taken + 1, 0), self.used)


@dataclass(frozen=True, slots=True)
class Backtest:
    """Each week with use as the one in which it would have been ordered, judged by the weeks before it alone."""

    windows: tuple[Window, ...]
    weeks: int
    certainty_pct100: int
    unit: str

    @property
    def used(self) -> int:
        return sum(window.used for window in self.windows)

    @property
    def enough(self) -> int:
        return sum(window.enough for window in self.windows)

    @property
    def enough_pct100(self) -> int:
        return round_half_up(Fraction(self.enough * PCT100_WHOLE, self.used))

    @property
    def off(self) -> Fraction:
        """How far the rate was off a week's mean of the weeks after, on average."""
        weeks = max(self.weeks, 1)
        off = sum((abs(one.a_week - Fraction(one.taken, weeks)) for one in self.windows), Fraction(0))
        return off / len(self.windows)

    @property
    def sentence(self) -> str:
        count = len(self.windows)
        return (
            f"Tried at {count} uses in your own past, ordering so would have left enough in "
            f"{print_percent(self.enough_pct100)} of cases, where {print_percent(self.certainty_pct100)} was "
            f"asked; the rate was off by {print_roughly(self.off, self.unit)} a week."
        )

    @property
    def working(self) -> Working:
        """The sums behind the share and how far off the rate was."""
        count, unit = len(self.windows), self.unit
        told = round_half_up(sum((one.a_week for one in self.windows), Fraction(0)) / count)
        taken = round_half_up(Fraction(sum(one.taken for one in self.windows), count * max(self.weeks, 1)))
        used, enough = print_quantity(self.used, unit), print_quantity(self.enough, unit)
        return make_working(
            "How well it would have served",
            f"for each use that has {LEAST_WEEKS} weeks and {LEAST_USES} uses before it: the point as those alone "
            f"would have told it, against what the use took past it and the next {self.weeks} weeks took; any part of "
            "a use may be the one that takes stock to the point",
            Given("uses looked at", f"{count}", "your own entries"),
            Given("certainty wanted", print_percent(self.certainty_pct100), origin_of(self.certainty_pct100)),
            Step("those uses took", used),
            Step("of it with enough left for the weeks after", enough),
            Step(f"enough: {enough} ÷ {used}", print_percent(self.enough_pct100)),
            Step("a week was told to take, on average", print_quantity(told, unit)),
            Step("a week took, on average", print_quantity(taken, unit)),
            Step("the rate was off by, above or below, on average", print_about(self.off, unit)),
            result=print_percent(self.enough_pct100),
            notes=(
                "The weeks after overlap, so a heavy one counts several times. Plans and seasons are left out.",
            ),
        )


def compute_backtest(
    weekly: Sequence[int], weeks: int, certainty_pct100: int, unit: str = "mass"
) -> Backtest | None:
    """Judge every use that so many weeks follow by the weeks before it; None where there is none yet."""
    found = []
    for place, rate in enumerate(follow_lumpy_rate(weekly[: len(weekly) - weeks]), start=1):
        if place < LEAST_WEEKS or rate.uses < LEAST_USES or place + weeks >= len(weekly) or not weekly[place]:
            continue
        step = max(1, max(weekly[:place]) // _STEPS)
        point = compute_enough([sum_weeks(weekly[:place], weeks, step, from_level=True)], certainty_pct100)
        after = sum(weekly[place + 1 : place + 1 + weeks])
        found.append(Window(point, rate.unbiased, weekly[place], after))
    return Backtest(tuple(found), weeks, certainty_pct100, unit) if found else None
