"""Prices that were pasted or came in a file, one day a line: what is understood of them, and what is not."""

import re
from dataclasses import dataclass
from datetime import date, datetime

from costing.core.metal_price import DatedPrice
from studio.kit.measures import PRICES
from studio.kit.numerals import TEXT_MAX, Unreadable

MOST_LINES = 4_000
_EARLIEST = date(2000, 1, 1)
_LINE = re.compile(r'"?([0-9]{4}-[0-9]{2}-[0-9]{2}|[0-9]{1,2}/[0-9]{1,2}/[0-9]{4})"?[ \t]*[,;\t ][ \t]*(.+)')
_HAS_DIGIT = re.compile(r"[0-9]")


@dataclass(frozen=True, slots=True)
class ReadLines:
    """Prices in the order of their days, and a sentence for each line that cannot be taken."""

    prices: tuple[DatedPrice, ...]
    problems: tuple[str, ...]


def read_price_lines(text: str, unit: str, today: date) -> ReadLines:
    """Read lines such as "2026-11-01 28.40", "01/11/2026;28,40" or "2026-11-01,28.40 per g".

    `unit` is what a bare price is for. A first line without digits is taken for the headings of a file.
    """
    found: dict[date, DatedPrice] = {}
    problems: list[str] = []
    lines = text.lstrip("\ufeff").splitlines()
    if len(lines) > MOST_LINES:
        return ReadLines((), (f"There are {len(lines):,} lines: take at most {MOST_LINES:,} at a time.",))
    for number, line in enumerate(lines, start=1):
        if not line.strip() or (number == 1 and not _HAS_DIGIT.search(line)):
            continue
        try:
            price = _read_line(line.strip(), unit, today)
            if price.day in found:
                raise Unreadable("This day stands in another line already.")
            found[price.day] = price
        except Unreadable as refusal:
            problems.append(f"Line {number}, “{_shorten(line)}”: {refusal}")
    return ReadLines(tuple(found[day] for day in sorted(found)), tuple(problems))


def _read_line(line: str, unit: str, today: date) -> DatedPrice:
    match = _LINE.fullmatch(line)
    if match is None:
        raise Unreadable("Write a day and a price, such as 2026-11-01 28.40.")
    day = _read_day(match[1])
    if not _EARLIEST <= day <= today:
        raise Unreadable("Write a day from 2000 on, up to today.")
    amount, per_unit = PRICES[f"price-{unit}"].read(match[2].strip().strip('"')[: TEXT_MAX + 1], minimum=1)
    return DatedPrice(amount, per_unit, day)


def _read_day(text: str) -> date:
    try:
        return datetime.strptime(text, "%d/%m/%Y" if "/" in text else "%Y-%m-%d").date()
    except ValueError as wrong:
        raise Unreadable("There is no such day.") from wrong


def _shorten(line: str) -> str:
    plain = "".join(letter if letter.isprintable() else " " for letter in line).strip()
    return plain if len(plain) <= 40 else f"{plain[:39]}…"
