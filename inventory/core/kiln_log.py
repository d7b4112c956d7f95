"""The file of a thermocouple: lines of a time and a temperature, read whatever its commas, its header and its clock.

Nothing in it is trusted: it is bounded, every line that cannot be read is counted, and none can stop the rest.
"""

import csv
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from itertools import islice

from studio.kit.units import MINUTES_PER_HOUR, SECONDS_PER_HOUR, SECONDS_PER_MINUTE

from .kiln_columns import Columns, Kind, Row, find_columns, moment_of, number_of, split_clock
from .kiln_rates import Reading

MOST_BYTES = 5_000_000
MOST_LINES = 200_000
MOST_MINUTES = 7 * 24 * MINUTES_PER_HOUR
LEAST_READINGS, LEAST_MINUTES = 10, 10
LEAST_C, MOST_C = -50.0, 1_400.0
"""What a kiln and its room can be at: beyond it the wire was open, or the line is no reading."""
CELSIUS_MOST_C = 1_100
"""Hotter than any burnout: a file that goes above it and names no unit may be in Fahrenheit."""
MOST_GAP_S = 24 * SECONDS_PER_HOUR
HALF_DAY_S = 12 * SECONDS_PER_HOUR
DAY_S = 24 * SECONDS_PER_HOUR
FAR_S = 4e9
"""Late in the century: a clock that stands beyond it is not set."""
EPOCH_S, EPOCH_MS = 1e9, 1e12
"""Numbers from here on are seconds, and thousandths of a second, since 1970. Clocks that lost their time begin again
with 1970 or 2000: one that stands before this, in 2001, is not set."""
MOST_HOURS, MOST_AS_MINUTES = 48, 3_000
"""A firing takes less than two days: times up to here are hours, up to there minutes, and seconds beyond."""
_LINE_END = re.compile(r"\r\n?|\n")
_PRINTABLE = re.compile(r"[\x00-\x08\x0e-\x1f]")

TOO_LARGE = f"This file is too large. Send one of at most {MOST_BYTES // 1_000_000} MB."
TOO_LONG = f"This file has too many lines. Send one of at most {MOST_LINES:,}."
NO_TEXT = "This is no file of lines with a time and a temperature. Save it as CSV, and send that."
NO_READINGS = (
    "No times and temperatures can be read in this file. It needs a line for each reading: a time in seconds, minutes, "
    "as 14:30:05 or as 2026-03-14 14:30:05, and the temperature."
)
TOO_SHORT = (
    f"This file covers less than {LEAST_MINUTES} minutes, or has fewer than {LEAST_READINGS} readings."
)
BACKWARDS = "More than half of the lines of this file cannot be read, or their times run backwards."
NO_FIRING = "This file covers more than a week. Send that of one firing."
WHICH_UNIT = f"This file goes above {CELSIUS_MOST_C:,} and names no unit. Say whether it is in °C or in °F."


class NotALog(Exception):
    """Why a file is not taken, as a sentence for the person."""


@dataclass(frozen=True, slots=True)
class ReadLog:
    """The readings in order, minutes from the first; `begun` is its moment where the file says it, in UTC.

    `odd_lines` could not be read, the first of them at `first_odd`; `how` says what was taken for what.
    """

    readings: tuple[Reading, ...]
    begun: datetime | None
    odd_lines: int
    first_odd: int
    how: str


def read_log(content: bytes, zone: tzinfo, unit: str = "", time_unit: str = "") -> ReadLog:
    """The readings of a file. Raises NotALog.

    `unit` is "C" or "F", `time_unit` "s", "min" or "h", where the person says so; else the file does, or what it
    looks like. A time of day without a zone is that of `zone`.
    """
    rows = _split(_decode(content))
    columns = find_columns(rows)
    if columns is None:
        raise NotALog(NO_READINGS)
    unit_said = unit or columns.unit
    times = _times_of(columns, zone, time_unit)
    found, first_odd, odd = _gather(rows, columns, times, to_celsius=unit_said == "F")
    if odd > len(found):
        raise NotALog(BACKWARDS if found else NO_READINGS)
    if len(found) < LEAST_READINGS or found[-1][0] - found[0][0] < LEAST_MINUTES * SECONDS_PER_MINUTE:
        raise NotALog(TOO_SHORT)
    begin_s = found[0][0]
    readings = tuple(((second - begin_s) / SECONDS_PER_MINUTE, c) for second, c in found)
    if readings[-1][0] > MOST_MINUTES:
        raise NotALog(NO_FIRING)
    if not unit_said and sorted(c for _, c in readings)[-3] > CELSIUS_MOST_C:
        raise NotALog(WHICH_UNIT)
    is_known = times.is_absolute and EPOCH_S <= begin_s < FAR_S
    begun = datetime.fromtimestamp(begin_s, UTC) if is_known else None
    how = (
        f"Times from column {columns.time + 1}, {times.words}; temperatures from column {columns.temperature + 1}, "
        f"in °{unit_said or 'C'}{'' if unit_said else ', as nothing else is said'}."
    )
    return ReadLog(readings, begun, odd, first_odd, how)


def _decode(content: bytes) -> str:
    if len(content) > MOST_BYTES:
        raise NotALog(TOO_LARGE)
    for codec in ("utf-16",) if content[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252"):
        try:
            text = content.decode(codec)
        except UnicodeDecodeError:
            continue
        if _PRINTABLE.search(text):
            break
        return text
    raise NotALog(NO_TEXT)


def _split(text: str) -> list[Row]:
    """Every line that says something, with its number, cut into cells. It ends as on any machine, old ones too."""
    lines = [(number, line) for number, line in enumerate(_LINE_END.split(text), 1) if line.strip()]
    if len(lines) > MOST_LINES:
        raise NotALog(TOO_LONG)
    comma = _find_separator([line for _, line in lines[:: max(1, len(lines) // 200)]])
    return [(number, _cut(line, comma)) for number, line in lines]


def _find_separator(lines: Sequence[str]) -> str | None:
    """What most lines are cut at; None for blanks."""
    for separator in ("\t", ";", ","):
        if 2 * sum(separator in line for line in lines) > len(lines):
            return separator
    return None


def _cut(line: str, separator: str | None) -> list[str]:
    if '"' in line and separator:
        try:
            return [cell.strip() for cell in next(csv.reader([line], delimiter=separator))]
        except (csv.Error, StopIteration):
            return []
    return [cell.strip() for cell in line.split(separator)]


@dataclass
class _Times:
    """Cells of time as seconds; `words` say what they were taken for."""

    read: Callable[[Row], float | None]
    words: str
    is_absolute: bool = False


def _gather(
    rows: Sequence[Row], columns: Columns, times: _Times, to_celsius: bool
) -> tuple[list[Reading], int, int]:
    """(second, C) of the lines that can be read, from the first of them on; the first that cannot, and how many."""
    found: list[Reading] = []
    first_odd = odd = 0
    for row in islice(rows, columns.first, None):
        cells = row[1]
        c = number_of(cells[columns.temperature]) if len(cells) > columns.temperature else None
        if c is not None and to_celsius:
            c = (c - 32) * 5 / 9
        if c is not None and LEAST_C <= c <= MOST_C:
            second = times.read(row)
            if second is not None and (not found or 0 <= second - found[-1][0] <= MOST_GAP_S):
                found.append((second, c))
                continue
        odd += 1
        first_odd = first_odd or row[0]
    return found, first_odd, odd


def _times_of(columns: Columns, zone: tzinfo, time_unit: str) -> _Times:
    if columns.kind is Kind.MOMENT:
        return _Times(_read_moments(columns, zone), "as days and times", is_absolute=True)
    if columns.kind is Kind.CLOCK:
        return _Times(_read_clocks(columns), "as clock times")
    last = columns.last_time
    if last >= EPOCH_S and not time_unit:
        share = 1 if last < EPOCH_MS else 1_000
        return _Times(_read_numbers(columns.time, 1 / share), "as seconds since 1970", is_absolute=True)
    unit = time_unit or columns.time_unit or _guess_unit(last - columns.first_time)
    seconds, words = {
        "s": (1, "in seconds"),
        "min": (SECONDS_PER_MINUTE, "in minutes"),
        "h": (SECONDS_PER_HOUR, "in hours"),
    }[unit]
    guessed = "" if time_unit or columns.time_unit else ", as they look"
    return _Times(_read_numbers(columns.time, seconds), words + guessed)


def _guess_unit(span: float) -> str:
    return "h" if span <= MOST_HOURS else "min" if span <= MOST_AS_MINUTES else "s"


def _read_numbers(column: int, seconds: float) -> Callable[[Row], float | None]:
    def read(row: Row) -> float | None:
        number = number_of(row[1][column]) if len(row[1]) > column else None
        return None if number is None else number * seconds

    return read


def _read_clocks(columns: Columns) -> Callable[[Row], float | None]:
    """Times of day go on after midnight."""
    last, days = -1.0, 0

    def read(row: Row) -> float | None:
        nonlocal last, days
        second = split_clock(row[1][columns.time], columns.is_short) if len(row[1]) > columns.time else None
        if second is None:
            return None
        if last - second > HALF_DAY_S:
            days += 1
        last = second
        return second + days * DAY_S

    return read


def _read_moments(columns: Columns, zone: tzinfo) -> Callable[[Row], float | None]:
    """Wall times of a zone are real ones; the hour that comes twice counts on."""
    last = float("-inf")

    def read(row: Row) -> float | None:
        nonlocal last
        moment = moment_of(_cells_of_time(row[1], columns))
        if moment is None:
            return None
        try:
            second = (moment if moment.tzinfo else moment.replace(tzinfo=zone)).timestamp()
            if second < last and not moment.tzinfo:
                second = moment.replace(tzinfo=zone, fold=1).timestamp()
        except (OverflowError, ValueError, OSError):
            return None
        last = second
        return second

    return read


def _cells_of_time(cells: Sequence[str], columns: Columns) -> str:
    if len(cells) <= max(columns.time, columns.day or 0):
        return ""
    return cells[columns.time] if columns.day is None else f"{cells[columns.day]} {cells[columns.time]}"


def tell_odd(odd_lines: int, first_odd: int) -> Iterator[str]:
    """What is said of lines that could not be read."""
    if odd_lines == 1:
        yield f"1 line could not be read and counts for nothing: line {first_odd:,}."
    elif odd_lines:
        yield f"{odd_lines:,} lines could not be read and count for nothing; the first is line {first_odd:,}."
