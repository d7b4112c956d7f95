"""Typed text to whole small units. Every reader raises Unreadable with a sentence that says how to mend it.

All of them take `minimum` and `maximum` in the small unit they return, and round once, half up.
"""

import re
from collections.abc import Callable
from fractions import Fraction

from studio.kit import measures, printing, units
from studio.kit.measures import MASS_WORDS, OUNCES, Measure
from studio.kit.numerals import Unreadable, read_number, refuse_below_zero, split_parts, tidy

MASS_MAX_MG = 100 * units.MG_PER_KG
VOLUME_MAX_UL = 1_000 * units.UL_PER_L
COUNT_MAX = 1_000_000
LENGTH_MAX_UM = 10_000 * units.UM_PER_MM
MONEY_MAX_MICRO = 10_000_000 * units.MICRO_PER_UNIT
MONEY_DECIMALS = 6
PERCENT_MAX_PCT100 = units.PCT100_WHOLE
MINUTES_MAX = 31 * 24 * units.MINUTES_PER_HOUR
SECONDS_MAX = 24 * units.MINUTES_PER_HOUR * units.SECONDS_PER_MINUTE
ENERGY_MAX_WH = 100_000 * units.WH_PER_KWH
CELSIUS_MAX = 2_000
HEATING_MAX = 10_000
# No element is denser than 22.6 g/cm3, and no pattern is lighter than 0.1.
DENSITY_MIN_MG_CM3 = 100
DENSITY_MAX_MG_CM3 = 25_000
MELTS_MAX_MILLI = 1_000 * units.MELTS_MILLI_PER_MELT


def _read(text: str, measure: Measure, minimum: int, maximum: int) -> int:
    plain = tidy(text)
    refuse_below_zero(plain)
    parts = split_parts(plain)
    if parts is None or (len(parts) > 1 and not measure.sums):
        measure.refuse()
    exact = _add_up(parts, measure)
    if measure.whole and exact.denominator != 1:
        raise Unreadable(f"Write {measure.example}.")
    return _check_bounds(units.round_half_up(exact), minimum, maximum, measure.show)


def _add_up(parts: list[tuple[str, str]], measure: Measure) -> Fraction:
    """The exact sum of all parts, which must run from the larger unit to the smaller, each with its unit."""
    total, last = Fraction(0), None
    for number, unit in parts:
        amount = read_number(number, measure.whole)
        if amount is None or (len(parts) > 1 and not unit):
            measure.refuse()
        if unit in measure.questions and (len(parts) == 1 or unit not in measure.factors):
            raise Unreadable(measure.questions[unit](amount))
        factor = measure.factors.get(unit or measure.bare)
        if factor is None or (last is not None and factor >= last):
            measure.refuse()
        total += amount * Fraction(factor) + measure.offsets.get(unit, 0)
        last = factor
    return total


def _check_bounds(value: int, minimum: int, maximum: int, show: Callable[[int], str]) -> int:
    if value > maximum:
        raise Unreadable(f"The most this field takes is {show(maximum)}. Check the number and its unit.")
    if value < minimum:
        raise Unreadable("Write more than 0." if minimum == 1 else f"Write at least {show(minimum)}.")
    return value


def read_mass(text: str, *, minimum: int = 0, maximum: int = MASS_MAX_MG) -> int:
    """Milligrams. A bare number is grams; a bare "oz" or "gr" is asked about; "18 dwt 12 gr" adds up."""
    return _read(text, measures.MASS, minimum, maximum)


def read_volume(text: str, *, minimum: int = 0, maximum: int = VOLUME_MAX_UL) -> int:
    """Microlitres. A bare number is millilitres; a fluid ounce is the US one."""
    return _read(text, measures.VOLUME, minimum, maximum)


def read_count(text: str, *, minimum: int = 0, maximum: int = COUNT_MAX) -> int:
    """A whole number of items."""
    return _read(text, measures.COUNT, minimum, maximum)


def read_length(text: str, *, minimum: int = 0, maximum: int = LENGTH_MAX_UM) -> int:
    """Micrometres. A bare number is millimetres."""
    return _read(text, measures.LENGTH, minimum, maximum)


def read_percent(text: str, *, minimum: int = 0, maximum: int = PERCENT_MAX_PCT100) -> int:
    """Hundredths of a per cent."""
    return _read(text, measures.PERCENT, minimum, maximum)


def read_minutes(text: str, *, minimum: int = 0, maximum: int = MINUTES_MAX) -> int:
    """Minutes. A bare number is minutes; "7:30" and "7 h 30" are hours and minutes."""
    plain = tidy(text)
    if clock := re.fullmatch(r"([0-9]{1,4}):([0-5][0-9])", plain):
        plain = f"{clock[1]} h {clock[2]} min"
    elif re.fullmatch(r"[0-9]+ ?(?:h|hrs?|hours?) ?[0-9]{1,2}", plain):
        plain += " min"
    return _read(plain, measures.TIME, minimum, maximum)


def read_seconds(text: str, *, minimum: int = 0, maximum: int = SECONDS_MAX) -> int:
    """Seconds. "4:30" is minutes and seconds; a bare number is asked about, unless it is 0."""
    plain = tidy(text)
    if clock := re.fullmatch(r"([0-9]{1,3}):([0-5][0-9])", plain):
        plain = f"{clock[1]} min {clock[2]} s"
    elif plain == "0":
        plain = "0 s"
    return _read(plain, measures.SECONDS, minimum, maximum)


def read_energy(text: str, *, minimum: int = 0, maximum: int = ENERGY_MAX_WH) -> int:
    """Watt-hours. A bare number is kilowatt-hours."""
    return _read(text, measures.ENERGY, minimum, maximum)


def read_celsius(text: str, *, minimum: int = 0, maximum: int = CELSIUS_MAX) -> int:
    """Whole degrees Celsius; "1350 F" is turned into them."""
    return _read(text, measures.CELSIUS, minimum, maximum)


def read_heating_rate(text: str, *, minimum: int = 0, maximum: int = HEATING_MAX) -> int:
    """Whole degrees Celsius an hour; "270 F" an hour, which is a difference, is turned into them."""
    return _read(text, measures.HEATING, minimum, maximum)


def read_density(text: str, *, minimum: int = DENSITY_MIN_MG_CM3, maximum: int = DENSITY_MAX_MG_CM3) -> int:
    """Milligrams per cubic centimetre. A bare number is g/cm3."""
    return _read(text, measures.DENSITY, minimum, maximum)


def read_per_mille(text: str, *, minimum: int = 0, maximum: int = units.PER_MILLE_WHOLE) -> int:
    """Fineness in whole parts per thousand."""
    return _read(text, measures.PER_MILLE, minimum, maximum)


def read_melts(text: str, *, minimum: int = 0, maximum: int = MELTS_MAX_MILLI) -> int:
    """Thousandths of a melt."""
    return _read(text, measures.MELTS, minimum, maximum)


def read_quantity(text: str, unit: str, *, minimum: int = 0, maximum: int | None = None) -> int:
    """A stock quantity in its material's unit: "mass" (mg), "volume" (ul) or "items". Else ValueError."""
    readers = {"mass": read_mass, "volume": read_volume, "items": read_count}
    if unit not in readers:
        raise ValueError(f"no such unit of stock: {unit!r}")
    bounds = {"minimum": minimum} if maximum is None else {"minimum": minimum, "maximum": maximum}
    return readers[unit](text, **bounds)


_CODE = r"[£$€]|[a-z]{3}"
_MONEY = re.compile(rf"({_CODE})? ?([0-9.,'/ ]+?) ?({_CODE})?")
_PRICE = re.compile(r"(.+?) ?(?:/|\bper\b) ?([a-z. ]+)")
_MONEY_EXAMPLE = "an amount of money such as 12.50"
_PRICE_EXAMPLE = "a price such as 0.98 per g or 30.50 per ozt"
_NOT_CODES = {word for measure in measures.EVERY for word in (*measure.factors, *measure.questions, "per")}
PRICE_UNITS = ("g", "kg", "ozt", "dwt", "lb")


def read_money(text: str, *, minimum: int = 0, maximum: int = MONEY_MAX_MICRO) -> int:
    """Millionths of the currency. A sign or three-letter code in front or behind is passed over."""
    return _read_amount(tidy(text), _MONEY_EXAMPLE, minimum, maximum)


def read_money_per_mass(
    text: str, *, default_unit: str = "g", minimum: int = 0, maximum: int = MONEY_MAX_MICRO
) -> tuple[int, str]:
    """A price of metal or powder: millionths of the currency, and the unit it is for, one of PRICE_UNITS."""
    plain = tidy(text)
    amount, unit = plain, default_unit
    if price := _PRICE.fullmatch(plain):
        amount = price[1]
        word = price[2].replace(".", "").strip()
        if word in OUNCES:
            raise Unreadable("Ounces troy or ounces avoirdupois? Write per ozt, or give the price per lb.")
        named = [key for key in PRICE_UNITS if word in MASS_WORDS[key].split("|")]
        if not named:
            raise Unreadable(f"This cannot be read. Write {_PRICE_EXAMPLE}.")
        unit = named[0]
    return _read_amount(amount, _PRICE_EXAMPLE, minimum, maximum), unit


def _read_amount(plain: str, example: str, minimum: int, maximum: int) -> int:
    refuse_below_zero(plain)
    match = _MONEY.fullmatch(plain)
    amount = read_number(match[2]) if match else None
    if match is None or amount is None or {match[1], match[3]} & _NOT_CODES:
        raise Unreadable(f"This cannot be read. Write {example}.")
    exact = amount * units.MICRO_PER_UNIT
    if exact.denominator != 1:
        raise Unreadable(f"Write at most {MONEY_DECIMALS} decimals.")
    return _check_bounds(int(exact), minimum, maximum, printing.print_exact_money)
