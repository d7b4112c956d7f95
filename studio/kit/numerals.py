"""Typed text to exact numbers, and numbers to text. What could be read in two ways is asked about, never guessed."""

import re
import unicodedata
from fractions import Fraction

from studio.kit.units import divide_half_up

TEXT_MAX = 60

# A number and its unit stay on one line.
SPACE = "\u00a0"
MINUS = "\u2212"
NOTHING = "\u2013"

_ODD_SIGNS = str.maketrans(
    {
        **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212", "-"),
        **dict.fromkeys("\u2018\u2019\u02bc\u2032", "'"),
        "\u2044": "/",
        "\u201c": '"',
        "\u201d": '"',
        "\u00d7": "x",
    }
)
_GROUP = r"[1-9][0-9]{0,2}"
_PLAIN = re.compile(r"[0-9]+[.,]?[0-9]*|[.,][0-9]+")
_COMMA_GROUPS = re.compile(rf"{_GROUP}(?:,[0-9]{{3}})+(?:\.[0-9]*)?")
_DOT_GROUPS = re.compile(rf"{_GROUP}(?:\.[0-9]{{3}})+,[0-9]*|{_GROUP}(?:\.[0-9]{{3}}){{2,}}")
_SPACE_GROUPS = re.compile(rf"{_GROUP}(?:[ '][0-9]{{3}})+(?:[.,][0-9]*)?")
_FRACTION = re.compile(r"(?:([0-9]+) )?([0-9]+) ?/ ?([0-9]+)")
_CUBIC_CM = re.compile(r"\bcm\^?3\b|(?<=[0-9])cm\^?3\b")
_PART = re.compile(
    r"""([0-9.,](?:[0-9.,'/ ]*[0-9.,])?)\s*"""
    r"""((?:[a-z°%‰]+(?:\.(?![0-9]))?(?:[ /][a-z°%‰]+(?:\.(?![0-9]))?)*|")?)\s*\+?\s*"""
)


class Unreadable(ValueError):
    """Typed text that cannot be taken; `str()` of it is a sentence that says how to mend it."""


def tidy(text: str) -> str:
    """Bring typed text to plain small letters, digits and single spaces. Raises Unreadable when too long."""
    if len(text) > TEXT_MAX:
        raise Unreadable(f"This is too long. Write a number and its unit in at most {TEXT_MAX} characters.")
    plain = []
    for letter in text.replace("m³", "m3").replace("M³", "m3"):
        form = unicodedata.decomposition(letter)
        if form.startswith(("<super>", "<sub>", "<circle>")):
            raise Unreadable("Write plain digits, not raised, lowered or ringed ones.")
        # Without the space "1½" would turn into 11/2.
        plain.append(f" {letter}" if form.startswith("<fraction>") else letter)
    even = unicodedata.normalize("NFKC", "".join(plain)).lower().translate(_ODD_SIGNS)
    seen = "".join(letter for letter in even if unicodedata.category(letter) != "Cf")
    return " ".join(_CUBIC_CM.sub("cc", seen).split())


def read_number(text: str, whole: bool = False) -> Fraction | None:
    """The exact number in tidied `text`, or None when it is not one.

    A comma before exactly three digits may be a decimal or a thousand: it is asked about (Unreadable),
    unless the number is `whole` and can only be counted in thousands.
    """
    if fraction := _FRACTION.fullmatch(text):
        units, top, bottom = (int(part or 0) for part in fraction.groups())
        return units + Fraction(top, bottom) if bottom else None
    if _COMMA_GROUPS.fullmatch(text):
        if text.count(",") == 1 and "." not in text and not whole:
            thousands, decimal = text.replace(",", ""), text.replace(",", ".")
            raise Unreadable(f"Is {text} meant as {thousands} or as {decimal}? Write it without the comma.")
        return Fraction(text.replace(",", "").rstrip("."))
    if _DOT_GROUPS.fullmatch(text):
        return Fraction(text.replace(".", "").replace(",", ".").rstrip("."))
    if _SPACE_GROUPS.fullmatch(text):
        return Fraction(re.sub("[ ']", "", text).replace(",", ".").rstrip("."))
    if _PLAIN.fullmatch(text):
        return Fraction("0" + text.replace(",", ".").rstrip("."))
    return None


def split_parts(text: str) -> list[tuple[str, str]] | None:
    """Split tidied text into (number, unit) pairs, "18 dwt 12 gr" into two; None when it is built otherwise."""
    parts: list[tuple[str, str]] = []
    place = 0
    while place < len(text):
        part = _PART.match(text, place)
        if part is None:
            return None
        parts.append((part[1].strip(), part[2].replace(".", "")))
        place = part.end()
    if text.endswith("+"):
        return None
    return parts or None


def refuse_below_zero(text: str) -> None:
    """Raise Unreadable when tidied text starts with a minus."""
    if text.lstrip("£$€ ").startswith("-"):
        raise Unreadable("This cannot be below zero. Write it without the minus.")


def print_decimal(value: int, digits: int, most: int, least: int = 0, thousands: bool = True) -> str:
    """Print `value` x 10^-`digits` with at most `most` decimals, keeping at least `least` of the zeros."""
    most = min(most, digits)
    units = divide_half_up(value, 10 ** (digits - most))
    whole, part = divmod(abs(units), 10**most)
    decimals = f"{part:0{most}d}" if most else ""
    kept = decimals.rstrip("0").ljust(least, "0")
    text = f"{whole:,}" if thousands else str(whole)
    return (MINUS if units < 0 else "") + text + (f".{kept}" if kept else "")
