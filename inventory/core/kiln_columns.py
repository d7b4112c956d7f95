"""Which column of a thermocouple's file holds what: told by the cells themselves, and by the words above them."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import Enum, auto
from itertools import pairwise

from studio.kit.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE

Row = tuple[int, list[str]]
"""A line's number and its cells."""
LOOKED_AT = 200
PREAMBLE = 60
"""Loggers write what they are above their readings; no more than so many lines of it are gone through."""
MOST_COLUMNS = 40

_NUMBER = re.compile(
    r"([+-]?\d{1,13}(?:[.,]\d{0,9})?(?:[eE][+-]?\d{1,3})?)\s*(?:°?\s*[CF]|deg\.?\s*[CF]|s|sec|min|h)?",
    re.ASCII,
)
_CLOCK = re.compile(
    r"(?:\S{6,12}[ T])?(\d{1,3}):([0-5]\d)(?::([0-5]\d(?:[.,]\d{1,6})?))?\s*([AaPp][Mm])?", re.ASCII
)
_MOMENT = re.compile(
    r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(?::\d\d(?:[.,]\d{1,6})?)?(?:\s*(?:Z|[+-]\d\d:?\d\d))?", re.ASCII
)
_DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_TIME_WORDS = re.compile(r"time|elapsed|sec|minute|\bmin\b|hour|clock|\bs\b|\bh\b")
_HEAT_WORDS = re.compile(r"temp|°|deg|cels|fahr|therm|probe|kiln|\bpv\b|\bt1\b|\bc\b|\bf\b")
_OTHER_WORDS = re.compile(r"ambient|cold|junction|set|\bsp\b|internal|room|target|output|power")
_FAHRENHEIT = re.compile(r"°\s*f|fahrenheit|deg\.?\s*f\b|[\[(_ ]f[\])]?$|^f$")
_CELSIUS = re.compile(r"°\s*c|celsius|deg\.?\s*c\b|[\[(_ ]c[\])]?$|^c$")
_UNITS = (("s", r"sec|\bs\b"), ("min", r"minute|\bmin\b|\bmins\b"), ("h", r"hour|\bh\b|\bhrs?\b"))


class Kind(Enum):
    """What a cell looks like."""

    MOMENT = auto()
    DAY = auto()
    CLOCK = auto()
    NUMBER = auto()
    TEXT = auto()


@dataclass(frozen=True, slots=True)
class Columns:
    """Where the time and the temperature stand; `day` where the day has a column of its own.

    `first` is the place of the first row with readings. `unit` ("C", "F") and `time_unit` ("s", "min", "h") are ""
    where the file does not say. `is_short` are clocks of minutes and seconds.
    """

    time: int
    temperature: int
    kind: Kind
    first: int
    day: int | None = None
    unit: str = ""
    time_unit: str = ""
    is_short: bool = False
    first_time: float = 0.0
    last_time: float = 0.0


def number_of(cell: str) -> float | None:
    """A plain number with a decimal point or comma; None for all else, infinities and what is no number included."""
    found = _NUMBER.fullmatch(cell)
    if not found:
        return None
    number = float(found[1].replace(",", "."))
    return number if abs(number) < 1e15 else None


def split_clock(cell: str, is_short: bool = False) -> float | None:
    """Seconds of "14:30:05", "14:30" or "2:30 PM", after a day in any writing; `is_short` are minutes and seconds."""
    found = _CLOCK.fullmatch(cell)
    if not found:
        return None
    hours, minutes, seconds, half = found.groups()
    if is_short and seconds is None:
        return int(hours) * SECONDS_PER_MINUTE + int(minutes)
    hour = int(hours) % 12 + (12 if half.lower() == "pm" else 0) if half else int(hours)
    return (
        hour * SECONDS_PER_HOUR
        + int(minutes) * SECONDS_PER_MINUTE
        + float((seconds or "0").replace(",", "."))
    )


def moment_of(text: str) -> datetime | None:
    """An ISO 8601 date and time; None for what is none."""
    if not _MOMENT.fullmatch(text):
        return None
    try:
        return datetime.fromisoformat(text.replace(",", ".").replace(" Z", "Z").replace(" +", "+"))
    except ValueError:
        return None


def find_columns(rows: Sequence[Row]) -> Columns | None:
    """The columns of a file; None where no time stands beside a temperature."""
    looked_at = [cells for _, cells in rows[:: max(1, len(rows) // LOOKED_AT)]]
    width = Counter(len(cells) for cells in looked_at).most_common(1)[0][0] if looked_at else 0
    if not 2 <= width <= MOST_COLUMNS:
        return None
    looked_at = [cells for cells in looked_at if len(cells) == width]
    kinds = [_kind_of([cells[place] for cells in looked_at]) for place in range(width)]
    first = _find_first(rows, kinds)
    heads = _find_heads(rows[: min(first, PREAMBLE)], width)
    values = [[number_of(cells[place]) for cells in looked_at] for place in range(width)]
    time = _find_time(kinds, heads, values)
    if time is None:
        return None
    temperature = _find_temperature(kinds, heads, values, time)
    if temperature is None:
        return None
    return _describe(rows, kinds, heads, (time, temperature), first, values[time])


def _describe(
    rows: Sequence[Row],
    kinds: Sequence[Kind],
    heads: Sequence[str],
    places: tuple[int, int],
    first: int,
    times: Sequence[float | None],
) -> Columns:
    time, temperature = places
    preamble = " ".join(cell for _, cells in rows[: min(first, PREAMBLE)] for cell in cells).lower()
    cells = rows[first][1]
    kind, day = kinds[time], kinds.index(Kind.DAY) if Kind.DAY in kinds else None
    if kind is Kind.CLOCK and day is not None:
        kind = Kind.MOMENT
    else:
        day = None
    numbers = [number for number in times if number is not None]
    clocks = [
        split_clock(one[time]) or 0.0
        for _, one in rows[first :: max(1, len(rows) // LOOKED_AT)]
        if len(one) > time
    ]
    return Columns(
        time,
        temperature,
        kind,
        first,
        day,
        unit=_find_unit(heads[temperature], cells[temperature].lower(), preamble),
        time_unit=next((unit for unit, words in _UNITS if re.search(words, heads[time])), ""),
        is_short="mm:ss" in heads[time] or (max(clocks, default=0.0) > 2 * 24 * SECONDS_PER_HOUR),
        first_time=numbers[0] if numbers else 0.0,
        last_time=numbers[-1] if numbers else 0.0,
    )


def _kind_of(cells: Sequence[str]) -> Kind:
    kind, count = Counter(map(_kind_of_cell, cells)).most_common(1)[0]
    return kind if 2 * count > len(cells) else Kind.TEXT


def _kind_of_cell(cell: str) -> Kind:
    for kind, pattern in (
        (Kind.MOMENT, _MOMENT),
        (Kind.DAY, _DAY),
        (Kind.CLOCK, _CLOCK),
        (Kind.NUMBER, _NUMBER),
    ):
        if pattern.fullmatch(cell):
            return kind
    return Kind.TEXT


def _find_first(rows: Sequence[Row], kinds: Sequence[Kind]) -> int:
    """The first row whose cells look like their columns."""
    for place, (_, cells) in enumerate(rows[:PREAMBLE]):
        if len(cells) == len(kinds) and all(
            kind is Kind.TEXT or _kind_of_cell(cell) is kind for kind, cell in zip(kinds, cells, strict=True)
        ):
            return place
    return 0


def _find_heads(rows: Sequence[Row], width: int) -> list[str]:
    """The words above the columns: of the last line before the readings that has as many cells."""
    for _, cells in reversed(rows):
        if len(cells) == width:
            return [cell.lower() for cell in cells]
    return [""] * width


def _find_time(
    kinds: Sequence[Kind], heads: Sequence[str], values: Sequence[Sequence[float | None]]
) -> int | None:
    for kind in (Kind.MOMENT, Kind.CLOCK):
        if kind in kinds:
            return kinds.index(kind)
    running = [place for place, kind in enumerate(kinds) if kind is Kind.NUMBER and _runs_on(values[place])]
    named = [place for place in running if _TIME_WORDS.search(heads[place])]
    return next(iter(named or running), None)


def _runs_on(values: Sequence[float | None]) -> bool:
    """Whether a column mostly grows: odd lines aside, a clock does."""
    known = [value for value in values if value is not None]
    grown = sum(later >= earlier for earlier, later in pairwise(known))
    return len(known) > 1 and known[-1] > known[0] and grown >= 0.9 * (len(known) - 1)


def _find_temperature(
    kinds: Sequence[Kind], heads: Sequence[str], values: Sequence[Sequence[float | None]], time: int
) -> int | None:
    """By its words; else the column that is no count of the lines and goes up and down most."""
    found = [place for place, kind in enumerate(kinds) if kind is Kind.NUMBER and place != time]
    named = [
        place for place in found if _HEAT_WORDS.search(heads[place]) and not _OTHER_WORDS.search(heads[place])
    ]
    candidates = named or [place for place in found if not _counts_lines(values[place])] or found
    return max(candidates, key=lambda place: (_span_of(values[place]), -place), default=None)


def _counts_lines(values: Sequence[float | None]) -> bool:
    known = [value for value in values if value is not None]
    steps = {later - earlier for earlier, later in pairwise(known)}
    return len(steps) == 1 and steps.pop() >= 1


def _span_of(values: Sequence[float | None]) -> float:
    """From low to high, without the wild ones at both ends."""
    known = sorted(value for value in values if value is not None)
    edge = len(known) // 10
    return known[-1 - edge] - known[edge] if known else 0.0


def _find_unit(head: str, cell: str, preamble: str) -> str:
    for text in (head, cell):
        for unit, pattern in (("F", _FAHRENHEIT), ("C", _CELSIUS)):
            if pattern.search(text):
                return unit
    if re.search(r"°\s*f\b|fahrenheit", preamble):
        return "F"
    return "C" if re.search(r"°\s*c\b|celsius", preamble) else ""
