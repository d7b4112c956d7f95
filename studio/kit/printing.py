"""Numbers as people read them. Each function rounds half up, once, and never changes what is stored."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

from studio.kit.units import (
    MG_PER_KG,
    MINUTES_PER_HOUR,
    SECONDS_PER_MINUTE,
    divide_half_up,
    round_half_up,
)

# A number and its unit stay on one line.
SPACE = "\u00a0"
MINUS = "\u2212"
NOTHING = "\u2013"

# Each unit of stock: how many of its small unit make one, and what one is called.
_UNITS = {"mass": (1000, "g"), "volume": (1000, "ml"), "items": (1, "items")}

_money_decimals = ContextVar("money_decimals", default=2)

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def print_decimal(value: int, digits: int, most: int, least: int = 0, thousands: bool = True) -> str:
    """Print `value` x 10^-`digits` with at most `most` decimals, keeping at least `least` of the zeros."""
    most = min(most, digits)
    units = divide_half_up(value, 10 ** (digits - most))
    whole, part = divmod(abs(units), 10**most)
    decimals = f"{part:0{most}d}" if most else ""
    kept = decimals.rstrip("0").ljust(least, "0")
    text = f"{whole:,}" if thousands else str(whole)
    return (MINUS if units < 0 else "") + text + (f".{kept}" if kept else "")


def print_mass(mass_mg: int | None) -> str:
    """Grams to the milligram: two decimals, three when the last is not 0, none on whole grams from 1 kg."""
    if mass_mg is None:
        return NOTHING
    whole_grams = abs(mass_mg) >= MG_PER_KG and mass_mg % 1000 == 0
    return print_decimal(mass_mg, 3, most=3, least=0 if whole_grams else 2) + f"{SPACE}g"


def print_bulk(mass_mg: int | None) -> str:
    """Powder and other bulk: kilograms to the nearest 10 g from 1 kg on, grams below."""
    if mass_mg is None or abs(mass_mg) < MG_PER_KG:
        return print_mass(mass_mg)
    return print_decimal(mass_mg, 6, most=2, least=2) + f"{SPACE}kg"


def print_fine(fine_ug: int | None) -> str:
    """Fine metal in grams to the milligram, from micrograms."""
    if fine_ug is None:
        return NOTHING
    return print_decimal(fine_ug, 6, most=3, least=3) + f"{SPACE}g"


def print_fineness(fine_ug: int, mass_mg: int) -> str:
    """Parts per thousand to two decimals, rounded down: a mark has no minus tolerance (Hallmarking Act 1973)."""
    if mass_mg <= 0:
        return NOTHING
    return print_decimal(fine_ug * 100 // mass_mg, 2, most=2)


def print_volume(volume_ul: int | None) -> str:
    """Millilitres, from microlitres: "182 ml", "0.5 ml"."""
    if volume_ul is None:
        return NOTHING
    return print_decimal(volume_ul, 3, most=3) + f"{SPACE}ml"


def print_items(items: int | None) -> str:
    """A count: "1 item", "12 items"."""
    if items is None:
        return NOTHING
    return print_decimal(items, 0, most=0) + SPACE + ("item" if items == 1 else "items")


def print_quantity(quantity: int | None, unit: str) -> str:
    """A stock quantity in its material's unit: "mass" (mg), "volume" (ul) or "items". Else ValueError."""
    if unit == "mass":
        return print_mass(quantity)
    if unit == "volume":
        return print_volume(quantity)
    if unit == "items":
        return print_items(quantity)
    raise ValueError(f"no such unit of stock: {unit!r}")


def about_decimals(number: Fraction) -> int:
    """How many decimals an estimate deserves: none from ten on, one from one on, else two."""
    return 0 if number >= 10 else 1 if number >= 1 else 2


def print_about(quantity: Fraction | Decimal | int | None, unit: str) -> str:
    """An estimate in a material's unit, such as a mean: "842 g", "4.2 ml", "0.25 items". Else ValueError."""
    if quantity is None:
        return NOTHING
    if unit not in _UNITS:
        raise ValueError(f"no such unit of stock: {unit!r}")
    small, word = _UNITS[unit]
    number = Fraction(quantity) / small
    most = about_decimals(abs(number))
    text = print_decimal(round_half_up(number * 10**most), most, most=most)
    return text + SPACE + ("item" if (text, unit) == ("1", "items") else word)


@contextmanager
def showing_money(decimals: int) -> Iterator[None]:
    """Within this, money is printed with so many decimals wherever a place does not name its own: see print_money."""
    token = _money_decimals.set(decimals)
    try:
        yield
    finally:
        _money_decimals.reset(token)


def print_money(money_micro: int | None, decimals: int | None = None) -> str:
    """An amount of the studio's currency, digits only: the page names the currency once.

    It has the decimals that the studio chose, two where nothing is set.
    """
    if money_micro is None:
        return NOTHING
    shown = _money_decimals.get() if decimals is None else decimals
    return print_decimal(money_micro, 6, most=shown, least=shown)


def print_exact_money(money_micro: int | None) -> str:
    """An amount of money with every decimal it has, two at least: "12.50", "0.847285"."""
    if money_micro is None:
        return NOTHING
    return print_decimal(money_micro, 6, most=6, least=2)


def print_percent(percent_pct100: int | None) -> str:
    """A percentage from hundredths of a per cent: "2.5 %"."""
    if percent_pct100 is None:
        return NOTHING
    return print_decimal(percent_pct100, 2, most=2) + f"{SPACE}%"


def print_length(length_um: int | None) -> str:
    """Millimetres, from micrometres: "75 mm", "76.2 mm"."""
    if length_um is None:
        return NOTHING
    return print_decimal(length_um, 3, most=3) + f"{SPACE}mm"


def print_minutes(minutes: int | None) -> str:
    """A length of time: "45 min", "2 h", "7 h 30 min"."""
    if minutes is None:
        return NOTHING
    hours, rest = divmod(abs(minutes), MINUTES_PER_HOUR)
    parts = [f"{hours:,}{SPACE}h"] if hours else []
    if rest or not hours:
        parts.append(f"{rest}{SPACE}min")
    return (MINUS if minutes < 0 else "") + SPACE.join(parts)


def print_seconds(seconds: int | None) -> str:
    """A short length of time: "4 min", "3 min 30 s", "45 s"."""
    if seconds is None:
        return NOTHING
    minutes, rest = divmod(seconds, SECONDS_PER_MINUTE)
    parts = [print_minutes(minutes)] if minutes or not rest else []
    if rest:
        parts.append(f"{rest}{SPACE}s")
    return SPACE.join(parts)


def print_energy(energy_wh: int | None) -> str:
    """Kilowatt-hours, from watt-hours: "12.4 kWh"."""
    if energy_wh is None:
        return NOTHING
    return print_decimal(energy_wh, 3, most=3) + f"{SPACE}kWh"


def print_celsius(temperature_c: int | None) -> str:
    """A temperature: "750 °C"."""
    if temperature_c is None:
        return NOTHING
    return print_decimal(temperature_c, 0, most=0) + f"{SPACE}°C"


def print_heating_rate(c_per_hour: int | None) -> str:
    """How fast a kiln climbs: "150 °C an hour"."""
    return NOTHING if c_per_hour is None else f"{print_celsius(c_per_hour)}{SPACE}an{SPACE}hour"


def print_density(density_mg_cm3: int | None) -> str:
    """A density from mg per cm3: "10.36 g/cm³"."""
    if density_mg_cm3 is None:
        return NOTHING
    return print_decimal(density_mg_cm3, 3, most=3, least=2) + f"{SPACE}g/cm³"


def print_melts(melts_milli: int | None, decimals: int = 1) -> str:
    """How often metal was melted, from thousandths of a melt: "1 melt", "1.5 melts"."""
    if melts_milli is None:
        return NOTHING
    number = print_decimal(melts_milli, 3, most=decimals)
    return number + SPACE + ("melt" if number == "1" else "melts")


def print_day(day: date | None, with_year: bool = False) -> str:
    """A day: "Mon 7 Dec", or with the year "Mon 7 Dec 2026"."""
    if day is None:
        return NOTHING
    parts = [_DAYS[day.weekday()], str(day.day), _MONTHS[day.month - 1]]
    return SPACE.join([*parts, str(day.year)] if with_year else parts)


def print_date(day: date | None) -> str:
    """A day without its weekday: "7 Dec 2026"."""
    if day is None:
        return NOTHING
    return SPACE.join((str(day.day), _MONTHS[day.month - 1], str(day.year)))


def print_moment(moment: datetime | None, with_year: bool = False) -> str:
    """A day and clock time as they stand in `moment`: bring it into the studio's zone first."""
    if moment is None:
        return NOTHING
    return f"{print_day(moment, with_year)},{SPACE}{moment:%H:%M}"
