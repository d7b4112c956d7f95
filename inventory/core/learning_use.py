"""What a week is expected to take of a material: learnt from the weeks behind, or assumed, and said which.

A series is what each week took, oldest first, in the material's small unit, weeks without use as 0.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from studio.kit.printing import print_decimal, print_roughly
from studio.kit.units import round_half_up

from .demand import WEEKS_A_YEAR, LumpyRate, compute_lumpy_rate

LEAST_WEEKS, LEAST_USES = 8, 4
"""With fewer weeks, or fewer weeks in which something was taken, nobody can tell yet: a starting rule of the studio."""
SEASON_WEEKS = 8
"""So many weeks to come are looked up a year before: with fewer, one cast sooner or later would look like a season."""
SEASON_DOUBT = 8
"""So many uses of a year before weigh as much as there being no season at all: a starting figure, not measured."""


@dataclass(frozen=True, slots=True)
class Season:
    """How the weeks to come stood a year before against a mean week of that year, drawn towards 1.

    `factor` is a whole number of thousandths; `own` is what those weeks alone say, `uses` in how many of them something
    was taken.
    """

    factor: Fraction
    own: Fraction
    uses: int


@dataclass(frozen=True, slots=True)
class UseAhead:
    """What the weeks to come are drawn from, and the mean that one takes.

    The mean is of whole small units, or thousandths of an item. `is_known` is whether enough weeks lie behind;
    `sentence` says what it rests on, or what is assumed. `lumps` is how the mean came about, None where it is assumed.
    """

    draws: tuple[int, ...]
    a_week: Fraction
    weeks: int
    uses: int
    is_known: bool
    sentence: str
    lumps: LumpyRate | None = None
    season: Season | None = None

    @property
    def is_any(self) -> bool:
        return any(self.draws)


def compute_season(weekly: Sequence[int]) -> Season | None:
    """Of the weeks to come; None with less than a year behind, or none used in it."""
    year = weekly[-WEEKS_A_YEAR:]
    if len(year) < WEEKS_A_YEAR or not any(year):
        return None
    then = year[:SEASON_WEEKS]
    uses = sum(1 for used in then if used)
    own = Fraction(sum(then) * len(year), len(then) * sum(year))
    blended = (uses * own + SEASON_DOUBT) / (uses + SEASON_DOUBT)
    return Season(Fraction(round_half_up(blended * 1000), 1000), own, uses)


def learn_use(
    weekly: Sequence[int], looked_back: int, guess: int | None = None, unit: str = "mass"
) -> UseAhead:
    """What the coming weeks take, by the last `looked_back` of them.

    `guess` is the person's own of a week, taken while the weeks do not tell.
    """
    recent = tuple(weekly[-looked_back:])
    weeks, uses = len(recent), sum(1 for used in recent if used)
    if weeks < LEAST_WEEKS or uses < LEAST_USES:
        return _assume(recent, uses, guess, unit)
    lumps, season = compute_lumpy_rate(recent), compute_season(weekly)
    factor = season.factor if season else Fraction(1)
    return UseAhead(
        draws=tuple(round_half_up(used * factor) for used in recent),
        a_week=_round(lumps.unbiased * factor, unit),
        weeks=weeks,
        uses=uses,
        is_known=True,
        sentence=f"It rests on {weeks} weeks, in {uses} of which some was taken.",
        lumps=lumps,
        season=season,
    )


def _assume(recent: tuple[int, ...], uses: int, guess: int | None, unit: str) -> UseAhead:
    """With a guess, weeks that take nothing, it or twice it: the spread of a thing used now and then."""
    said = f"It is not known yet what a week takes: {_tell_weeks(len(recent), uses)}. It is assumed that"
    draws: tuple[int, ...]
    if guess is not None:
        draws, a_week = (0, guess, 2 * guess), Fraction(guess)
        assumed = f"a week takes {print_roughly(guess, unit)}, your own guess: none, that or twice that, each as likely"
    elif uses:
        draws, a_week = recent, _round(Fraction(sum(recent), len(recent)), unit)
        assumed = f"weeks to come take what those so far did, {print_roughly(a_week, unit)} on average"
    else:
        draws, a_week, assumed = (), Fraction(0), "it takes none"
    return UseAhead(draws, a_week, len(recent), uses, False, f"{said} {assumed}.")


def _tell_weeks(weeks: int, uses: int) -> str:
    needed = f"{LEAST_WEEKS} weeks, and {LEAST_USES} with use, are needed"
    if not weeks:
        return f"none of it came yet; {needed}"
    behind = "1 week lies behind" if weeks == 1 else f"{weeks} weeks lie behind"
    return f"{behind}, {uses if uses else 'none'} of them with use; {needed}"


def _round(figure: Fraction, unit: str) -> Fraction:
    """To what a working shows of it, so that a person who goes on with that comes to the same."""
    digits = 1000 if unit == "items" else 1
    return Fraction(round_half_up(figure * digits), digits)


def print_times(factor: Fraction) -> str:
    """A factor to three decimals."""
    return print_decimal(round_half_up(factor * 1000), 3, most=3)
