"""Each kind of typed figure: how it is read, how it is told back, and how it is typed."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

from studio.kit import printing, reading
from studio.kit.numerals import Unreadable


@dataclass(frozen=True, slots=True)
class Kind:
    """`example` ends "Write ..."; `tell` prints a value that was read, `retype` makes text that reads back."""

    example: str
    read: Callable[..., Any]
    tell: Callable[[Any], str]
    retype: Callable[[Any], str]


def _retype(digits: int, unit: str = "", least: int = 0) -> Callable[[int], str]:
    def retype(value: int) -> str:
        number = printing.print_decimal(value, digits, most=digits, least=least, thousands=False)
        return f"{number} {unit}".strip()

    return retype


def _retype_minutes(minutes: int) -> str:
    return printing.print_minutes(minutes).replace(printing.SPACE, " ").replace(",", "")


def _retype_seconds(seconds: int) -> str:
    return printing.print_seconds(seconds).replace(printing.SPACE, " ").replace(",", "")


def _tell_price(price: tuple[int, str]) -> str:
    return f"{printing.print_exact_money(price[0])} per {price[1]}"


def _retype_price(price: tuple[int, str]) -> str:
    return f"{_retype(6, least=2)(price[0])} per {price[1]}"


KINDS: dict[str, Kind] = {
    "mass": Kind("a mass such as 12.4 g", reading.read_mass, printing.print_mass, _retype(3, "g")),
    "volume": Kind("a volume such as 250 ml", reading.read_volume, printing.print_volume, _retype(3, "ml")),
    "items": Kind("a whole number such as 12", reading.read_count, printing.print_items, _retype(0)),
    "money": Kind(
        "an amount of money such as 12.50",
        reading.read_money,
        printing.print_exact_money,
        _retype(6, least=2),
    ),
    "percent": Kind(
        "a percentage such as 2.5", reading.read_percent, printing.print_percent, _retype(2, "%")
    ),
    "length": Kind("a length such as 75 mm", reading.read_length, printing.print_length, _retype(3, "mm")),
    "minutes": Kind(
        "a length of time such as 7:30 or 450 min",
        reading.read_minutes,
        printing.print_minutes,
        _retype_minutes,
    ),
    "seconds": Kind(
        "a short time such as 4 min or 3 min 30 s",
        reading.read_seconds,
        printing.print_seconds,
        _retype_seconds,
    ),
    "energy": Kind(
        "an amount of energy such as 12.4 kWh", reading.read_energy, printing.print_energy, _retype(3, "kWh")
    ),
    "celsius": Kind(
        "a temperature such as 750 C", reading.read_celsius, printing.print_celsius, _retype(0, "C")
    ),
    "heating": Kind(
        "degrees an hour such as 150",
        reading.read_heating_rate,
        printing.print_heating_rate,
        _retype(0, "C/h"),
    ),
    "density": Kind(
        "a density such as 10.36", reading.read_density, printing.print_density, _retype(3, "g/cm3")
    ),
    "fineness": Kind("parts per thousand such as 925", reading.read_per_mille, str, str),
    "melts": Kind("a number such as 1.5", reading.read_melts, printing.print_melts, _retype(3)),
}
# The unit that a bare price is for is part of the kind, or the line below the field would name another.
KINDS |= {
    f"price-{unit}": Kind(
        f"a price such as 30.50 per {unit}",
        partial(reading.read_money_per_mass, default_unit=unit),
        _tell_price,
        _retype_price,
    )
    for unit in reading.PRICE_UNITS
}


def understand(kind: str, text: str, **bounds: int) -> tuple[bool, str]:
    """What a field of `kind` makes of `text`: (True, what it understood) or (False, how to mend it).

    `bounds` are those of the reader. Nothing typed is nothing understood; an unknown kind is a refusal,
    since both may come from an address that a person wrote.
    """
    if kind not in KINDS:
        return False, "This field cannot be read ahead. Write it and save."
    if not text.strip():
        return True, ""
    try:
        return True, KINDS[kind].tell(KINDS[kind].read(text, **bounds))
    except Unreadable as refusal:
        return False, str(refusal)
