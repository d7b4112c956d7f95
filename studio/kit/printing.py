"""Numbers as people read them: short names for the measures' own printing, and what is no measure.

Each rounds half up, once, and never changes what is stored.
"""

from collections.abc import Callable, Iterable
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

from studio.kit import measures
from studio.kit.numerals import MINUS, NOTHING, SPACE, print_decimal
from studio.kit.units import MG_PER_G, MG_PER_KG, round_half_up

__all__ = ["MINUS", "NOTHING", "SPACE", "print_decimal"]

print_mass = measures.MASS.print
print_weighed = measures.MASS.print_in_column  # with the decimals of the scale
print_fine = measures.FINE.print
print_volume = measures.VOLUME.print
print_money = measures.MONEY.print
print_exact_money = measures.MONEY.tell
print_percent = measures.PERCENT.print
print_length = measures.LENGTH.print
print_minutes = measures.MINUTES.print
print_seconds = measures.SECONDS.print
print_energy = measures.ENERGY.print
print_celsius = measures.CELSIUS.print
print_heating_rate = measures.HEATING.print
print_cooling_rate = measures.COOLING.print
print_vacuum = measures.VACUUM.print
print_density = measures.DENSITY.print
print_melts = measures.MELTS.print
print_assay = measures.ASSAY.print

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def print_milligrams(mass_mg: int) -> str:
    """Grams with three decimals always: for workings of means and shares, where such figures stand under each other."""
    return print_decimal(mass_mg, 3, most=3, least=3) + f"{SPACE}g"


def print_alike(masses_mg: Iterable[int]) -> Callable[[int], str]:
    """How weights that are told side by side are printed: all with as many decimals as one of them needs."""
    masses = list(masses_mg)
    if all(mass_mg % MG_PER_G == 0 for mass_mg in masses):
        return print_mass
    decimals = 3 if any(mass_mg % 10 for mass_mg in masses) else 2
    return lambda mass_mg: print_decimal(mass_mg, 3, most=decimals, least=decimals) + f"{SPACE}g"


def print_bulk(mass_mg: int | None) -> str:
    """Powder and other bulk: kilograms to the nearest 10 g from 1 kg on, grams below."""
    if mass_mg is None or abs(mass_mg) < MG_PER_KG:
        return print_mass(mass_mg)
    return print_decimal(mass_mg, 6, most=2, least=2) + f"{SPACE}kg"


def print_fineness(fine_ug: int, mass_mg: int) -> str:
    """Parts per thousand to two decimals, rounded down: a mark has no minus tolerance (Hallmarking Act 1973)."""
    if mass_mg <= 0:
        return NOTHING
    return print_decimal(fine_ug * 100 // mass_mg, 2, most=2)


def print_quantity(quantity: int | None, unit: str) -> str:
    """A stock quantity in its material's unit: "mass" (mg), "volume" (ul) or "items". Else ValueError."""
    return measures.stock_measure(unit).print(quantity)


def print_pack(quantity: int, unit: str) -> str:
    """What is in a pack as it is said aloud: "25 kg", "250 g", "12 items"; exact. Else ValueError."""
    if unit == "mass":
        is_large = quantity >= MG_PER_KG
        most = 6 if is_large else 3
        return print_decimal(quantity, most, most=most) + SPACE + ("kg" if is_large else "g")
    return print_quantity(quantity, unit)


def about_decimals(number: Fraction) -> int:
    """How many decimals an estimate deserves: none from ten on, one from one on, else two."""
    return 0 if number >= 10 else 1 if number >= 1 else 2


def print_about(quantity: Fraction | Decimal | int | None, unit: str) -> str:
    """An estimate in a material's unit, such as a mean: "842 g", "4.2 ml", "0.25 items". Else ValueError."""
    if quantity is None:
        return NOTHING
    measure = measures.stock_measure(unit)
    number = Fraction(quantity) / 10**measure.digits
    most = about_decimals(abs(number))
    text = print_decimal(round_half_up(number * 10**most), most, most=most)
    return text + measure.print_unit(text)


def print_roughly(quantity: Fraction | Decimal | int, unit: str) -> str:
    """The same as people order by: kilograms from one kilogram on."""
    if unit == "mass" and quantity >= MG_PER_KG:
        return print_bulk(round_half_up(quantity))
    return print_about(quantity, unit)


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
    """A day and clock time as they stand in `moment`: bring it into the studio's zone first.

    Where there is no room for both, the time stands below the day.
    """
    if moment is None:
        return NOTHING
    return f"{print_day(moment, with_year)}, {moment:%H:%M}"
