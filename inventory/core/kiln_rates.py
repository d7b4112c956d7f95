"""How fast a kiln climbed and fell, taken from its readings: windows of some degrees and the time each took.

Readings are (minute, degrees Celsius) in order of time. Temperatures and times are measured, so they are floats; no
grams and no money come near them.
"""

from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

Reading = tuple[float, float]
"""Minutes from some beginning, and degrees Celsius."""
Asked = Callable[[float, bool], float | None]
"""What a program asked at a temperature, going up or not: degrees a minute, None for all that the kiln can."""
MEDIAN_OF = 5
"""A reading counts as the middle one of so many around it: a single wild one leaves no trace."""
BIN_MINUTES = 2.0
WINDOW_C = 15.0
"""A window is the time of so many degrees: a thermocouple is good to about two (class 2, IEC 60584-1, from memory)."""
RUN_C = 30.0
"""A climb or fall of less is the kiln going on and off at its mark."""
LEAST_C_PER_MINUTE = 0.2
KEPT_UP = 0.85
"""A kiln that goes at this share of what its program asked or more may have kept up with it, and shows no full heat."""
MOST_WINDOWS = 40


@dataclass(frozen=True, slots=True)
class Window:
    """The kiln went from one temperature to another in so many minutes."""

    from_c: float
    to_c: float
    minutes: float

    @property
    def middle_c(self) -> float:
        return (self.from_c + self.to_c) / 2

    @property
    def c_per_minute(self) -> float:
        """Degrees a minute, below zero for a fall."""
        return (self.to_c - self.from_c) / self.minutes


@dataclass(frozen=True, slots=True)
class FiringRates:
    """What one firing shows of its kiln at full heat, and shut off."""

    climbs: tuple[Window, ...] = ()
    falls: tuple[Window, ...] = ()


RatesOfKilns = dict[int, dict[int, FiringRates]]
"""By kiln and firing."""


def pack_rates(rates: FiringRates) -> dict[str, list[list[int]]]:
    """As they are kept: tenths of a degree, and seconds."""

    def pack(windows: Sequence[Window]) -> list[list[int]]:
        return [[round(one.from_c * 10), round(one.to_c * 10), round(one.minutes * 60)] for one in windows]

    return {"climbs": pack(rates.climbs), "falls": pack(rates.falls)}


def unpack_rates(packed: dict[str, list[list[int]]]) -> FiringRates:
    """The same back. Raises KeyError for what was never packed."""

    def unpack(rows: list[list[int]]) -> tuple[Window, ...]:
        return tuple(Window(low / 10, high / 10, second / 60) for low, high, second in rows if second > 0)

    return FiringRates(unpack(packed["climbs"]), unpack(packed["falls"]))


def join_moments(seen: Sequence[Reading]) -> FiringRates:
    """The windows between moments at which somebody saw the kiln at a temperature on its way, at full heat or off.

    Of a kiln that stood at a set point before it went on, the moment at which it was turned, not that at which it came
    there.
    """
    windows = [
        Window(c, later_c, later - minute)
        for (minute, c), (later, later_c) in pairwise(seen)
        if later > minute and abs(later_c - c) >= WINDOW_C
    ]
    return FiringRates(
        tuple(one for one in windows if one.to_c > one.from_c),
        tuple(one for one in windows if one.to_c < one.from_c),
    )


def smooth(readings: Sequence[Reading]) -> list[Reading]:
    """Each reading as the middle one of those around it; the ends take what there is."""
    reach = MEDIAN_OF // 2
    degrees = [c for _, c in readings]
    smoothed = []
    for place, (minute, _) in enumerate(readings):
        around = sorted(degrees[max(0, place - reach) : place + reach + 1])
        smoothed.append((minute, around[len(around) // 2]))
    return smoothed


def measure_rates(readings: Sequence[Reading], asked: Asked | None = None) -> FiringRates:
    """The windows of one firing, at most MOST_WINDOWS each way.

    `asked` tells what a program asked of the kiln at a temperature, in degrees a minute, or None where it asked for
    all that the kiln can: windows in which it may have kept up with a program show nothing and are left out. Without
    `asked` the kiln is turned by hand, and each climb and fall is as fast as it can.
    """
    binned = _bin(smooth(readings))
    return FiringRates(
        tuple(_pick([one for one in _list_windows(binned, 1) if _is_full(one, asked)])),
        tuple(_pick([one for one in _list_windows(binned, -1) if _is_full(one, asked)])),
    )


def _is_full(window: Window, asked: Asked | None) -> bool:
    wanted = asked(window.middle_c, window.to_c > window.from_c) if asked else None
    return wanted is None or abs(window.c_per_minute) < KEPT_UP * wanted


def _bin(readings: Sequence[Reading]) -> list[Reading]:
    """The middle reading of each stretch of time, five readings long at least."""
    if len(readings) < MEDIAN_OF:
        return list(readings)
    apart = median(later - earlier for (earlier, _), (later, _) in pairwise(readings))
    width = max(BIN_MINUTES, MEDIAN_OF * apart)
    minutes = [minute for minute, _ in readings]
    binned, place = [], 0
    while place < len(readings):
        end = max(place + 1, bisect_left(minutes, minutes[place] + width, place))
        part = readings[place:end]
        binned.append((median(minute for minute, _ in part), median(c for _, c in part)))
        place = end
    return binned


def _list_windows(binned: Sequence[Reading], way: int) -> Iterator[Window]:
    """Windows of the climbs (`way` 1) or falls (-1), without the two ends of each, where it begins and levels off."""
    for run in _list_runs(binned, way):
        inner = run[1:-1] if len(run) > 3 else run
        begin = inner[0]
        for reading in inner[1:]:
            if way * (reading[1] - begin[1]) >= WINDOW_C:
                yield Window(begin[1], reading[1], reading[0] - begin[0])
                begin = reading


def _list_runs(binned: Sequence[Reading], way: int) -> Iterator[list[Reading]]:
    run: list[Reading] = list(binned[:1])
    for earlier, later in pairwise(binned):
        if way * (later[1] - earlier[1]) >= LEAST_C_PER_MINUTE * (later[0] - earlier[0]) > 0:
            run.append(later)
            continue
        if way * (run[-1][1] - run[0][1]) >= RUN_C:
            yield run
        run = [later]
    if run and way * (run[-1][1] - run[0][1]) >= RUN_C:
        yield run


def _pick(windows: Sequence[Window]) -> Sequence[Window]:
    """No more than are kept, from all over the temperatures."""
    return pick_evenly(sorted(windows, key=lambda one: one.middle_c), MOST_WINDOWS)


def pick_evenly(things: Sequence[Window], most: int) -> Sequence[Window]:
    """So many at most, the first and the last among them."""
    if len(things) <= most:
        return things
    return [things[place * (len(things) - 1) // (most - 1)] for place in range(most)]
