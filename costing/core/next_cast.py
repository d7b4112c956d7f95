"""What to cast next: of what sells and leaves something, the design that leaves most for the time at the bench.

Money is millionths of the currency.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from studio.kit.printing import print_money

WEEKS = 8
"""How far back "lately" goes. Longer than between two fairs, shorter than a season: a starting figure of ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prospect:
    """A design that was sold: what it left for an hour at the bench and for a flask, None where that is not known.

    `sold` went in the last weeks, less what came back; `here` are not sold yet, and `coming` are planned or being cast.
    """

    name: str
    profit_micro: int
    hour_micro: int | None
    flask_micro: int | None
    sold: int
    here: int
    coming: int

    @property
    def weeks_left(self) -> int:
        """Whole weeks for which what is here and coming lasts, where some were sold."""
        return WEEKS * (self.here + self.coming) // self.sold

    @property
    def is_short(self) -> bool:
        """It leaves something, and less of it is left than went in the last weeks."""
        return self.profit_micro > 0 and self.sold > self.here + self.coming


def rank_prospects(prospects: Iterable[Prospect]) -> list[Prospect]:
    """By what an hour at the bench leaves, and where no time is known by what a flask leaves: the most first."""

    def leaves(one: Prospect) -> tuple[bool, int, int]:
        return one.hour_micro is not None, one.hour_micro or 0, one.flask_micro or 0

    return sorted(prospects, key=leaves, reverse=True)


def _say_none(rows: Iterable[Prospect]) -> str:
    worth = [one for one in rows if one.profit_micro > 0]
    if not worth:
        return (
            "Nothing that was sold in this time left a profit: look at the prices before you cast it again."
        )
    said = (
        f"Of each design that leaves a profit there is as much here, or planned, as was sold in the last {WEEKS} "
        "weeks: nothing has to be cast for the shelf"
    )
    going = [one for one in worth if one.sold > 0]
    if not going:
        return f"{said}."
    first = min(going, key=lambda one: one.weeks_left)
    return f"{said}. At that pace {first.name} lasts shortest, {first.weeks_left} weeks."


def say_next_cast(ranked: Iterable[Prospect]) -> str:
    """The first of the ranked that is short, and why, in one sentence; or why there is none."""
    rows = list(ranked)
    best = next((one for one in rows if one.is_short), None)
    if best is None:
        return _say_none(rows)
    flask = "" if best.flask_micro is None else f"{print_money(best.flask_micro)} for a flask"
    if best.hour_micro is None:
        leaves = f"{flask}, and no time at the bench is written down for it"
    else:
        leaves = " and ".join(
            filter(None, (f"{print_money(best.hour_micro)} for an hour at the bench", flask))
        )
    left = "none is left" if not best.here else f"{best.here} {'is' if best.here == 1 else 'are'} left"
    coming = f", with {best.coming} planned" if best.coming else ""
    return f"Cast {best.name} next: it leaves {leaves}; {best.sold} went in the last {WEEKS} weeks and {left}{coming}."
