"""The words for each unit a person may type, and what a field says when it cannot read them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import NoReturn

from studio.kit import printing, units
from studio.kit.numerals import Unreadable

Factor = Decimal | Fraction | int

MASS_WORDS = {
    "g": "g|gm|gms|gram|grams|gramme|grammes",
    "kg": "kg|kgs|kilo|kilos|kilogram|kilograms",
    "mg": "mg|milligram|milligrams",
    "ozt": "ozt|oz t|oz troy|troy oz|troy ounce|troy ounces|ounce troy|ounces troy",
    "dwt": "dwt|dwts|pennyweight|pennyweights",
    "gr": "gr|grain|grains",
    "ct": "ct|carat|carats",
    "oz av": "oz av|oz avdp|oz avoirdupois|avoirdupois ounce|avoirdupois ounces|ounce avoirdupois|ounces avoirdupois",
    "lb": "lb|lbs|pound|pounds",
}
VOLUME_WORDS = {
    "ml": "ml|millilitre|millilitres|milliliter|milliliters",
    "l": "l|litre|litres|liter|liters",
    "cm3": "cc|ccm",
    "fl oz": "fl oz|us fl oz|fluid ounce|fluid ounces",
}
LENGTH_WORDS = {
    "mm": "mm|millimetre|millimetres|millimeter|millimeters",
    "cm": "cm|centimetre|centimetres|centimeter|centimeters",
    "in": 'in|inch|inches|"',
}
TIME_WORDS = {"h": "h|hr|hrs|hour|hours", "min": "min|mins|minute|minutes|m"}
OUNCES = ("oz", "ozs", "ounce", "ounces")


def _alias(factors: Mapping[str, Factor], words: Mapping[str, str]) -> dict[str, Factor]:
    return {word: factors[unit] for unit, line in words.items() for word in line.split("|")}


@dataclass(frozen=True, slots=True)
class Measure:
    """A kind of quantity: small units in one of each unit, the unit of a bare number, and its words."""

    factors: Mapping[str, Factor]
    bare: str
    example: str
    show: Callable[[int], str]
    sums: bool = False
    whole: bool = False
    offsets: Mapping[str, Fraction] = field(default_factory=dict)
    questions: Mapping[str, Callable[[Fraction], str]] = field(default_factory=dict)

    def refuse(self) -> NoReturn:
        raise Unreadable(f"This cannot be read. Write {self.example}.")


def _grams(amount: Fraction, unit: str) -> str:
    mass_mg = units.round_half_up(amount * Fraction(units.MASS_MG[unit]))
    return printing.print_decimal(mass_mg, 3, most=2, least=2) + f"{printing.SPACE}g"


def _ask_which_ounce(amount: Fraction) -> str:
    troy, avoirdupois = _grams(amount, "ozt"), _grams(amount, "oz av")
    return f"Ounces troy ({troy}) or ounces avoirdupois ({avoirdupois})? Write ozt or oz av."


def _ask_grain_or_gram(amount: Fraction) -> str:
    return f"Grains ({_grams(amount, 'gr')}) or grams ({_grams(amount, 'g')})? Write grains or g."


def _ask_minutes_or_seconds(amount: Fraction) -> str:
    number = printing.print_decimal(units.round_half_up(amount * 100), 2, most=2)
    return f"Minutes or seconds? Write {number} min or {number} s."


MASS = Measure(
    _alias(units.MASS_MG, MASS_WORDS),
    "g",
    "a mass such as 12.4 g, 2.5 ozt or 8 dwt",
    printing.print_mass,
    sums=True,
    questions={**dict.fromkeys(OUNCES, _ask_which_ounce), "gr": _ask_grain_or_gram},
)
VOLUME = Measure(
    _alias(units.VOLUME_UL, VOLUME_WORDS), "ml", "a volume such as 250 ml or 1.5 l", printing.print_volume
)
COUNT = Measure(
    dict.fromkeys(("", "item", "items", "pc", "pcs", "piece", "pieces"), 1),
    "",
    "a whole number such as 12",
    printing.print_items,
    whole=True,
)
LENGTH = Measure(
    _alias(units.LENGTH_UM, LENGTH_WORDS),
    "mm",
    "a length such as 75 mm, 7.5 cm or 3 in",
    printing.print_length,
)
PERCENT = Measure(
    dict.fromkeys(("%", "percent", "per cent", "pct"), units.PCT100_PER_PERCENT),
    "%",
    "a percentage such as 2.5 or 10 %",
    printing.print_percent,
)
TIME = Measure(
    _alias({"h": units.MINUTES_PER_HOUR, "min": 1}, TIME_WORDS),
    "min",
    "a length of time such as 7:30, 7 h 30, 7.5 h or 450 min",
    printing.print_minutes,
    sums=True,
)
SECONDS = Measure(
    {
        **dict.fromkeys(TIME_WORDS["min"].split("|"), units.SECONDS_PER_MINUTE),
        **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), 1),
    },
    "",
    "a short time such as 4 min, 3 min 30 s or 45 s",
    printing.print_seconds,
    sums=True,
    questions={"": _ask_minutes_or_seconds},
)
ENERGY = Measure(
    {"kwh": units.WH_PER_KWH, "wh": 1}, "kwh", "an amount of energy such as 12.4 kWh", printing.print_energy
)
CELSIUS = Measure(
    {
        **dict.fromkeys(("", "°", "c", "°c", "celsius"), 1),
        **dict.fromkeys(("f", "°f", "fahrenheit"), Fraction(5, 9)),
    },
    "",
    "a temperature such as 750 C or 1350 F",
    printing.print_celsius,
    offsets=dict.fromkeys(("f", "°f", "fahrenheit"), Fraction(-160, 9)),
)
_HOURLY = ("", "/h", "/hr", " per hour", " an hour")
# A climb is a difference: 9 F of it are 5 C, without the 32.
_C_HOURLY: dict[str, Factor] = {f"{word}{hourly}": 1 for word in ("", "°", "c", "°c") for hourly in _HOURLY}
_F_HOURLY: dict[str, Factor] = {
    f"{word}{hourly}": Fraction(5, 9) for word in ("f", "°f") for hourly in _HOURLY
}
HEATING = Measure(
    {**_C_HOURLY, **_F_HOURLY},
    "",
    "degrees an hour such as 150 or 270 F",
    printing.print_heating_rate,
)
DENSITY = Measure(
    dict.fromkeys(("g/cc", "g/ml", "kg/l"), units.MG_CM3_PER_G_CM3),
    "g/cc",
    "a density such as 10.36 or 10.36 g/cm3",
    printing.print_density,
)
PER_MILLE = Measure(
    dict.fromkeys(("", "‰", "per mille", "fine"), 1),
    "",
    "whole parts per thousand such as 925",
    str,
    whole=True,
)
MELTS = Measure(
    dict.fromkeys(("", "melt", "melts"), units.MELTS_MILLI_PER_MELT),
    "",
    "a number such as 1.5",
    printing.print_melts,
)
EVERY = (
    *(MASS, VOLUME, COUNT, LENGTH, PERCENT, TIME, SECONDS, ENERGY),
    *(CELSIUS, HEATING, DENSITY, PER_MILLE, MELTS),
)
