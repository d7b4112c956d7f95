"""A kiln's own curve: at full heat it goes towards a highest temperature, shut off towards the room.

Both are T = E + (T0 - E) e^(-t/tau): each minute takes the same share of the way that is left. For a body that cools
by itself that is Newton's law of cooling, with the room as E; that a kiln at full heat goes the same way towards the
temperature at which it loses what its elements give is the first-order model (both from memory). Temperatures and
times are measured, so they are floats here; what goes into a timetable is whole minutes, rounded up.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from math import ceil, log
from statistics import median, quantiles

from studio.kit.printing import MINUS, SPACE, print_celsius, print_minutes
from studio.kit.working import Given, Step, Working, make_working

from .kiln_rates import FiringRates, Window, pick_evenly

LEAST_CLIMBS, LEAST_CLIMB_C = 6, 150.0
LEAST_FALLS, LEAST_FALL_C = 3, 40.0
"""Fewer windows, or over fewer degrees, tell nothing: a guess of ours."""
APART_C = 40.0
"""The slope between two windows nearer to each other is mostly noise."""
MOST_FITTED = 150
BAND_C = 100.0
FULL_SHARE = 0.6
"""A climb at less than this share of what the kiln did at about that temperature was not at full heat."""
BEYOND_C = 60.0
"""How far beyond its windows a curve is believed: of a climb its first and last minutes are in none."""
CLEAR_C = 20.0
"""A curve says little of its last degrees: it never quite arrives."""
_HAIR = 1e-6


@dataclass(frozen=True, slots=True)
class Curve:
    """One way, up or down: goes towards `towards_c` with `tau_minutes`; seen from `least_c` to `most_c`.

    `slow_pct` and `fast_pct` are its spread: how much slower and faster than the curve the firings were (their
    extremes), or half of the windows of a single one (their quartiles), in whole per cent of the pace.
    """

    towards_c: float
    tau_minutes: float
    least_c: float
    most_c: float
    firings: int
    windows: int
    slow_pct: int = 0
    fast_pct: int = 0

    def reaches(self, from_c: float, to_c: float) -> bool:
        """Whether it is believed from one temperature to another."""
        if to_c > from_c:
            return self.towards_c > to_c + CLEAR_C and to_c <= self.most_c + BEYOND_C
        return self.towards_c < to_c - CLEAR_C and to_c >= self.least_c - BEYOND_C

    def exact_minutes(self, from_c: float, to_c: float) -> float:
        """Minutes from one temperature to another. Raises ValueError where the curve never gets there."""
        left = (from_c - self.towards_c) / (to_c - self.towards_c) if to_c != self.towards_c else 0.0
        if left < 1:
            raise ValueError("this curve never gets there")
        return self.tau_minutes * log(left)

    def minutes(self, from_c: float, to_c: float) -> int:
        """The same in whole minutes, rounded up."""
        return ceil(self.exact_minutes(from_c, to_c) - _HAIR)

    def exact_follow(self, from_c: float, to_c: float, c_per_minute: float) -> float:
        """Minutes where the kiln is asked to go evenly: it keeps up as long as it can, then is as fast as it can."""
        way = 1 if to_c > from_c else -1
        # Where all that the kiln can is just what is asked; beyond it the kiln falls behind.
        last_c = self.towards_c - way * c_per_minute * self.tau_minutes
        even_to = from_c if way * (last_c - from_c) <= 0 else to_c if way * (to_c - last_c) <= 0 else last_c
        return abs(even_to - from_c) / c_per_minute + self.exact_minutes(even_to, to_c)

    def follow(self, from_c: int, to_c: int, asked_minutes: int) -> int:
        """Whole minutes of a climb or fall that a schedule gives `asked_minutes`: those, or what the kiln needs."""
        exact = self.exact_follow(from_c, to_c, abs(to_c - from_c) / asked_minutes)
        return max(asked_minutes, ceil(exact - _HAIR))

    @property
    def origin(self) -> str:
        return f"your kiln's own curve, from {_count(self.firings, 'firing')}"


@dataclass(frozen=True, slots=True)
class KilnCurves:
    """What one kiln has shown; None for a way of which too little is known."""

    climb: Curve | None = None
    fall: Curve | None = None

    def between(self, from_c: int, to_c: int) -> Curve | None:
        """The curve from one temperature to another, where there is one that is believed all the way."""
        curve = self.climb if to_c > from_c else self.fall
        return curve if curve is not None and curve.reaches(from_c, to_c) else None


def compute_tau(minutes: float, from_c: float, to_c: float, towards_c: float) -> float:
    """The time constant in minutes of what went from one temperature to another in so many minutes.

    Raises ValueError where it did not come nearer to `towards_c`.
    """
    left = (from_c - towards_c) / (to_c - towards_c) if to_c != towards_c else 0.0
    if left <= 1:
        raise ValueError("it came no nearer")
    return minutes / log(left)


@lru_cache(maxsize=64)
def fit_curves(firings: tuple[FiringRates, ...], room_c: int) -> KilnCurves:
    """The curves of a kiln from its firings. What was worked out is remembered: every page asks again."""
    return KilnCurves(
        fit_climb([one.climbs for one in firings]), fit_fall([one.falls for one in firings], room_c)
    )


def fit_climb(firings: Sequence[Sequence[Window]]) -> Curve | None:
    """Full heat: the pace against the temperature is a line, whose slope is the median of all slopes between windows.

    Theil 1950 and Sen 1968 (from memory): up to 29 % of the windows may be wild. None where too little was measured,
    or where the kiln shows no temperature towards which it goes.
    """
    full = _keep_full_heat(firings)
    windows = pick_evenly(sorted((one for ones in full for one in ones), key=_middle), MOST_FITTED)
    if len(windows) < LEAST_CLIMBS or _span(windows) < LEAST_CLIMB_C:
        return None
    points = [(one.middle_c, one.c_per_minute) for one in windows]
    slopes = [
        (later[1] - earlier[1]) / (later[0] - earlier[0])
        for earlier, later in combinations(points, 2)
        if later[0] - earlier[0] >= APART_C
    ]
    slope = median(slopes)
    if slope >= 0:
        return None
    towards_c = median(c + pace / -slope for c, pace in points)
    return _make(full, windows, towards_c, -1 / slope) if towards_c > _ends(windows)[1] else None


def fit_fall(firings: Sequence[Sequence[Window]], room_c: int) -> Curve | None:
    """Shut off: the room is known, so that each window gives a time constant, of which the middle one holds."""
    clear = [[one for one in ones if one.to_c > room_c + CLEAR_C] for ones in firings]
    windows = pick_evenly(sorted((one for ones in clear for one in ones), key=_middle), MOST_FITTED)
    if len(windows) < LEAST_FALLS or _span(windows) < LEAST_FALL_C:
        return None
    tau = median(compute_tau(one.minutes, one.from_c, one.to_c, room_c) for one in windows)
    return _make(clear, windows, room_c, tau)


def _make(
    firings: Sequence[Sequence[Window]], windows: Sequence[Window], towards_c: float, tau_minutes: float
) -> Curve:
    paces = [
        [one.c_per_minute * tau_minutes / (towards_c - one.middle_c) for one in ones]
        for ones in firings
        if ones
    ]
    if len(paces) > 1:
        shares = [median(ones) for ones in paces]
        low, high = min(shares), max(shares)
    else:
        low, _, high = quantiles(paces[0], n=4)
    return Curve(
        towards_c,
        tau_minutes,
        *_ends(windows),
        firings=len(paces),
        windows=len(windows),
        slow_pct=max(0, round((1 - low) * 100)),
        fast_pct=max(0, round((high - 1) * 100)),
    )


def _keep_full_heat(firings: Sequence[Sequence[Window]]) -> list[list[Window]]:
    """Without what was clearly slower than the kiln can at about that temperature."""
    bands: dict[int, list[float]] = {}
    for one in (one for ones in firings for one in ones):
        bands.setdefault(int(one.middle_c // BAND_C), []).append(one.c_per_minute)
    full = {band: sorted(paces)[len(paces) * 3 // 4] for band, paces in bands.items()}
    return [
        [one for one in ones if one.c_per_minute >= FULL_SHARE * full[int(one.middle_c // BAND_C)]]
        for ones in firings
    ]


def _middle(window: Window) -> float:
    return window.middle_c


def _ends(windows: Iterable[Window]) -> tuple[float, float]:
    degrees = [c for one in windows for c in (one.from_c, one.to_c)]
    return min(degrees), max(degrees)


def _span(windows: Sequence[Window]) -> float:
    least, most = _ends(windows) if windows else (0.0, 0.0)
    return most - least


def explain_curve(curve: Curve, from_c: int, to_c: int) -> Working:
    """How the curve was found, and how long it takes from one temperature to another.

    Raises ValueError where the curve never gets there.
    """
    is_up = to_c > from_c
    towards = print_celsius(round(curve.towards_c))
    tau = print_minutes(round(curve.tau_minutes))
    way = f"from {print_celsius(from_c)} to {print_celsius(to_c)}"
    took, between = _count(curve.windows, "climb" if is_up else "fall"), (curve.least_c, curve.most_c)
    least, most = (print_celsius(round(c)) for c in between)
    return make_working(
        "How it climbs at full heat" if is_up else "How it cools, shut off",
        "each minute takes the same share of the way that is left to the highest temperature: E + (T - E) e^(-t/tau)"
        if is_up
        else "each minute takes the same share of the way that is left to the room: R + (T - R) e^(-t/tau)",
        Given(
            "measured", f"{took} of about 15{SPACE}°C, from {least} to {most}", _count(curve.firings, "log")
        ),
        Given("the room", towards, "the studio's setting") if not is_up else Step("it goes towards", towards),
        Step("time constant, the middle of all that was measured", tau),
        Step("from the curve the firings differ in pace", print_spread(curve)),
        Step(f"{way}, rounded up", print_minutes(curve.minutes(from_c, to_c))),
        source="Newton's law of cooling; " + ("slopes by Theil and Sen" if is_up else "the median"),
        notes=("One wild reading in five changes little: medians are taken throughout.",),
    )


def print_spread(curve: Curve) -> str:
    """ "−4 % to +3 %"."""
    slow, fast = (
        f"{sign}{share}{SPACE}%" if share else f"0{SPACE}%"
        for sign, share in ((MINUS, curve.slow_pct), ("+", curve.fast_pct))
    )
    return f"{slow} to {fast}"


def _count(number: int, noun: str) -> str:
    return f"1 {noun}" if number == 1 else f"{number} {noun}s"
