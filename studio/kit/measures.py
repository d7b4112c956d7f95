"""Every measure of the studio, each said once: its units and words, how it is read, printed and taken away.

A new one is one `Measure(...)` here: then `ReadField("its name")` asks for it, `FigureColumn("its name")` lists
it and takes it away, a report's column is of that kind, a template prints it by `{{ figure|its_name }}`, the code by
`.print`.

Sources: the international yard and pound agreement of 1959 (inch 25.4 mm, grain 64.79891 mg) and the US gallon of
231 cubic inches, from which the fluid ounce follows. The metric carat, 200 mg, is a mass of stones, never a fineness.
NIST Special Publication 811, appendix B.8 (from memory): the conventional inch of mercury is 3386.389 Pa, the
millimetre of mercury 133.3224 Pa; the torr is 101325/760 Pa.
"""

import re
from decimal import Decimal
from fractions import Fraction

from studio.kit import units
from studio.kit.measuring import MEASURES, Measure, by_word
from studio.kit.money import PRICE_UNITS, Money, Price
from studio.kit.numerals import MINUS, SPACE, print_decimal
from studio.kit.scale import scale_decimals

__all__ = ["MEASURES"]


def _show_mass(mass_mg: int) -> str:
    whole_grams = abs(mass_mg) >= units.MG_PER_KG and mass_mg % units.MG_PER_G == 0
    return print_decimal(mass_mg, 3, most=3, least=0 if whole_grams else 2) + f"{SPACE}g"


def _grams(amount: Fraction, unit: str) -> str:
    mass_mg = units.round_half_up(amount * Fraction(MASS.factors[unit]))
    return print_decimal(mass_mg, 3, most=2, least=2) + f"{SPACE}g"


def _ask_which_ounce(amount: Fraction) -> str:
    troy, avoirdupois = _grams(amount, "ozt"), _grams(amount, "oz av")
    return f"Ounces troy ({troy}) or ounces avoirdupois ({avoirdupois})? Write ozt or oz av."


def _ask_grain_or_gram(amount: Fraction) -> str:
    return f"Grains ({_grams(amount, 'gr')}) or grams ({_grams(amount, 'g')})? Write grains or g."


# Milligrams: to the milligram, two decimals at least, but none on whole grams from a kilogram on; in a column those
# of the scale.
MASS = Measure(
    "mass",
    symbol="g",
    digits=3,
    show=_show_mass,
    in_column=scale_decimals,
    factors=by_word(
        {
            "g|gm|gms|gram|grams|gramme|grammes": units.MG_PER_G,
            "kg|kgs|kilo|kilos|kilogram|kilograms": units.MG_PER_KG,
            "mg|milligram|milligrams": 1,
            "ozt|oz t|oz troy|troy oz|troy ounce|troy ounces|ounce troy|ounces troy": Decimal("31103.4768"),
            "dwt|dwts|pennyweight|pennyweights": Decimal("1555.17384"),
            "gr|grain|grains": Decimal("64.79891"),
            "ct|carat|carats": 200,
            "oz av|oz avdp|oz avoirdupois|avoirdupois ounce|avoirdupois ounces|ounce avoirdupois"
            "|ounces avoirdupois": Decimal("28349.523125"),
            "lb|lbs|pound|pounds": Decimal("453592.37"),
        }
    ),
    bare="g",
    questions={**dict.fromkeys(units.OUNCES, _ask_which_ounce), "gr": _ask_grain_or_gram},
    sums=True,
    maximum=100 * units.MG_PER_KG,
    example="a mass such as 12.4 g, 2.5 ozt or 8 dwt",
    asked="a mass such as 12.4 g",
    typed="g",
)


_FINE_DECIMALS = 3
# Fine metal in micrograms, told in grams to the milligram.
FINE = Measure(
    "fine", symbol="g", digits=6, most=_FINE_DECIMALS, least=_FINE_DECIMALS, in_column=lambda: _FINE_DECIMALS
)
# Microlitres; the fluid ounce is the US one.
VOLUME = Measure(
    "volume",
    symbol="ml",
    digits=3,
    factors=by_word(
        {
            "ml|millilitre|millilitres|milliliter|milliliters|cc|ccm": 1_000,
            "l|litre|litres|liter|liters": units.UL_PER_L,
            "fl oz|us fl oz|fluid ounce|fluid ounces": Decimal("29573.5295625"),
        }
    ),
    bare="ml",
    maximum=1_000 * units.UL_PER_L,
    example="a volume such as 250 ml or 1.5 l",
    asked="a volume such as 250 ml",
    typed="ml",
)
# A number of anything, as a column says it.
COUNT = Measure("count")
ITEMS = Measure(
    "items",
    symbol="items",
    one="item",
    factors=by_word({"|item|items|pc|pcs|piece|pieces": 1}),
    whole=True,
    maximum=1_000_000,
    example="a whole number such as 12",
    inputmode="numeric",
)
# Micrometres.
LENGTH = Measure(
    "length",
    symbol="mm",
    digits=3,
    factors=by_word(
        {
            "mm|millimetre|millimetres|millimeter|millimeters": units.UM_PER_MM,
            "cm|centimetre|centimetres|centimeter|centimeters": 10 * units.UM_PER_MM,
            'in|inch|inches|"': Decimal("25400"),
        }
    ),
    bare="mm",
    maximum=10_000 * units.UM_PER_MM,
    example="a length such as 75 mm, 7.5 cm or 3 in",
    asked="a length such as 75 mm",
    typed="mm",
)
# Hundredths of a per cent.
PERCENT = Measure(
    "percent",
    symbol="%",
    digits=2,
    in_column=lambda: 2,
    factors=by_word({"%|percent|per cent|pct": units.PCT100_PER_PERCENT}),
    bare="%",
    maximum=units.PCT100_WHOLE,
    example="a percentage such as 2.5 or 10 %",
    asked="a percentage such as 2.5",
    typed="%",
)


def _show_minutes(minutes: int) -> str:
    hours, rest = divmod(abs(minutes), units.MINUTES_PER_HOUR)
    parts = [f"{hours:,}{SPACE}h"] if hours else []
    if rest or not hours:
        parts.append(f"{rest}{SPACE}min")
    return (MINUS if minutes < 0 else "") + SPACE.join(parts)


def _spell_hours(plain: str) -> str:
    """ "7:30" and "7 h 30" are hours and minutes."""
    if clock := re.fullmatch(r"([0-9]{1,4}):([0-5][0-9])", plain):
        return f"{clock[1]} h {clock[2]} min"
    return f"{plain} min" if re.fullmatch(r"[0-9]+ ?(?:h|hrs?|hours?) ?[0-9]{1,2}", plain) else plain


_MINUTE_WORDS = "min|mins|minute|minutes|m"
MINUTES = Measure(
    "minutes",
    export_unit="min",
    show=_show_minutes,
    factors=by_word({"h|hr|hrs|hour|hours": units.MINUTES_PER_HOUR, _MINUTE_WORDS: 1}),
    bare="min",
    spell=_spell_hours,
    sums=True,
    maximum=31 * 24 * units.MINUTES_PER_HOUR,
    example="a length of time such as 7:30, 7 h 30, 7.5 h or 450 min",
    asked="a length of time such as 7:30 or 450 min",
    typed=None,
    inputmode="text",
)


def _show_seconds(seconds: int) -> str:
    minutes, rest = divmod(seconds, units.SECONDS_PER_MINUTE)
    parts = [_show_minutes(minutes)] if minutes or not rest else []
    if rest:
        parts.append(f"{rest}{SPACE}s")
    return SPACE.join(parts)


def _spell_stopwatch(plain: str) -> str:
    """ "4:30" is minutes and seconds; nothing is nothing in any unit."""
    if clock := re.fullmatch(r"([0-9]{1,3}):([0-5][0-9])", plain):
        return f"{clock[1]} min {clock[2]} s"
    return "0 s" if plain == "0" else plain


def _ask_minutes_or_seconds(amount: Fraction) -> str:
    number = print_decimal(units.round_half_up(amount * 100), 2, most=2)
    return f"Minutes or seconds? Write {number} min or {number} s."


SECONDS = Measure(
    "seconds",
    export_unit="s",
    show=_show_seconds,
    factors=by_word({_MINUTE_WORDS: units.SECONDS_PER_MINUTE, "s|sec|secs|second|seconds": 1}),
    questions={"": _ask_minutes_or_seconds},
    spell=_spell_stopwatch,
    sums=True,
    maximum=24 * units.MINUTES_PER_HOUR * units.SECONDS_PER_MINUTE,
    example="a short time such as 4 min, 3 min 30 s or 45 s",
    asked="a short time such as 4 min or 3 min 30 s",
    typed=None,
    inputmode="text",
)
DAYS = Measure("days", symbol="days", one="day")
# Watt-hours.
ENERGY = Measure(
    "energy",
    symbol="kWh",
    digits=3,
    in_column=lambda: 2,
    factors=by_word({"kwh": units.WH_PER_KWH, "wh": 1}),
    bare="kwh",
    maximum=100_000 * units.WH_PER_KWH,
    example="an amount of energy such as 12.4 kWh",
    typed="kWh",
)
_FAHRENHEIT = "f|°f|fahrenheit"
# Watts.
POWER = Measure("power", symbol="W")
# Whole degrees.
CELSIUS = Measure(
    "celsius",
    symbol="°C",
    factors=by_word({"|°|c|°c|celsius": 1, _FAHRENHEIT: Fraction(5, 9)}),
    offsets=dict.fromkeys(_FAHRENHEIT.split("|"), Fraction(-160, 9)),
    maximum=2_000,
    example="a temperature such as 750 C or 1350 F",
    asked="a temperature such as 750 C",
    typed="C",
)
_PA_PER_INHG = Fraction("3386.389")


def _spell_gauge(plain: str) -> str:
    """A gauge that counts from the air outside shows a vacuum with a minus: it is the same vacuum."""
    return plain.removeprefix("-").lstrip()


# Tenths of an inch of mercury below the air outside, as a pump's gauge shows it.
VACUUM = Measure(
    "vacuum",
    symbol="inHg",
    digits=1,
    least=1,
    factors=by_word(
        {
            word: 10 * pascal / _PA_PER_INHG
            for word, pascal in {
                'inhg|in hg|"hg|in|"|inches of mercury': _PA_PER_INHG,
                "kpa": Fraction(1_000),
                "mbar|millibar|hpa": Fraction(100),
                "bar": Fraction(100_000),
                "mmhg|mm hg": Fraction("133.3224"),
                "torr": Fraction(101_325, 760),
            }.items()
        }
    ),
    bare="inhg",
    spell=_spell_gauge,
    maximum=300,
    example="a vacuum from 0 to 30 inHg, such as 27.5 inHg, 93 kPa, 930 mbar, 0.93 bar or 700 mmHg",
    asked="a vacuum such as 27.5 inHg or 93 kPa",
    typed="inHg",
)
_HOURLY = ("", "/h", "/hr", " per hour", " an hour")
# A climb is a difference: 9 F of it are 5 C, without the 32.
HEATING = Measure(
    "heating",
    symbol=f"°C{SPACE}an{SPACE}hour",
    export_unit="°C/h",
    factors={
        f"{word}{hourly}": factor
        for word, factor in by_word({"|°|c|°c": 1, "f|°f": Fraction(5, 9)}).items()
        for hourly in _HOURLY
    },
    maximum=10_000,
    example="degrees an hour such as 150 or 270 F",
    asked="degrees an hour such as 150",
    typed="C/h",
)
_EACH_SECOND = ("", "/s", " per second", " a second")
# Tenths of a degree a second: what melted metal loses on its way to the mould.
COOLING = Measure(
    "cooling",
    symbol=f"°C{SPACE}a{SPACE}second",
    digits=1,
    export_unit="°C/s",
    factors={
        f"{word}{each}": factor
        for word, factor in by_word({"|°c|c": 10, "f|°f": Fraction(50, 9)}).items()
        for each in _EACH_SECOND
    },
    maximum=1_000,
    example="degrees a second such as 2.5 or 5 F",
    asked="degrees a second such as 2.5",
    typed="C/s",
)
# Milligrams per cubic centimetre. No element is denser than 22.6 g/cm3, and no pattern is lighter than 0.1.
DENSITY = Measure(
    "density",
    symbol="g/cm³",
    digits=3,
    least=2,
    factors=by_word({"g/cc|g/ml|kg/l": units.MG_CM3_PER_G_CM3}),
    bare="g/cc",
    minimum=100,
    maximum=25_000,
    example="a density such as 10.36 or 10.36 g/cm3",
    asked="a density such as 10.36",
    typed="g/cm3",
)
# Hundredths: how many times one thing is of another.
RATIO = Measure("ratio", digits=2)
FINENESS = Measure(
    "fineness",
    show=str,
    factors=by_word({"|‰|per mille|fine": 1}),
    whole=True,
    maximum=units.PER_MILLE_WHOLE,
    example="whole parts per thousand such as 925",
    asked="parts per thousand such as 925",
    inputmode="numeric",
)
# Hundredths of a part per thousand: what an assay's paper says.
ASSAY = Measure(
    "assay",
    digits=2,
    factors=by_word({"|‰|per mille|fine": 100}),
    maximum=100 * units.PER_MILLE_WHOLE,
    example="parts per thousand such as 921 or 921.5",
)
# Parts per million, told as parts per thousand: what an assay gives to a tenth, or a charge more finely.
PURITY = Measure(
    "purity",
    digits=3,
    show=lambda ppm: print_decimal(ppm, 3, most=3, thousands=False),
    factors=by_word({"|‰|per mille|fine": units.PPM_PER_MILLE}),
    maximum=units.PPM_PER_MILLE * units.PER_MILLE_WHOLE,
    example="parts per thousand such as 925 or 879.5",
    inputmode="decimal",
)
# Thousandths of a melt, told to a tenth.
MELTS = Measure(
    "melts",
    symbol="melts",
    one="melt",
    digits=3,
    most=1,
    factors=by_word({"|melt|melts": units.MELTS_MILLI_PER_MELT}),
    maximum=1_000 * units.MELTS_MILLI_PER_MELT,
    example="a number such as 1.5",
)
MONEY = Money(
    "money",
    digits=6,
    least=2,
    maximum=10_000_000 * units.MICRO_PER_UNIT,
    example="an amount of money such as 12.50",
)
PRICES = {f"price-{unit}": Price(unit, MONEY, MASS) for unit in PRICE_UNITS}
STOCK_UNITS = ("mass", "volume", "items")


def stock_measure(unit: str) -> Measure:
    """The measure of a material's unit: "mass" (mg), "volume" (ul) or "items". Raises ValueError for another."""
    if unit not in STOCK_UNITS:
        raise ValueError(f"no such unit of stock: {unit!r}")
    return MEASURES[unit]
