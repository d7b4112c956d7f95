"""Works a printed step again from what is printed in it, as a person would on a calculator."""

import html
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from django.test import Client
from django.urls import Resolver404, resolve

from studio.kit.working import Step

_WORDS = {" of ": " × ", " less ": " − ", " and ": " + ", " squared": " ^ 2"}
_TOKEN = re.compile(
    r"\s*(?:(?P<number>\d[\d,]*(?:\.\d+)?)\s*"
    r"(?P<unit>g/cm³|kWh|cm³|mm|ml|kg|g|W|%|melts?|items?|flasks?|h|min|s)?(?![\w])|(?P<sign>[×÷+−()^]))"
)
# What one of a unit is in the unit that the sums go by: a share, hours, kilowatts, centimetres, grams.
_SCALE = {
    "%": Fraction(1, 100),
    "W": Fraction(1, 1000),
    "mm": Fraction(1, 10),
    "kg": Fraction(1000),
    "min": Fraction(1, 60),
    "s": Fraction(1, 3600),
}
_PYTHON = {"×": "*", "÷": "/", "−": "-", "^": "**"}
_ENDINGS = (" per g", " per ml", " per item", " × 1000")

Token = Fraction | str

FILES = (".csv", ".xlsx", ".pdf", ".ics")


def follow_links(
    client: Client, start: str = "/", of_each: int = 3, is_worth_more: Callable[[], bool] = lambda: True
) -> list[str]:
    """Open pages by the links on them, `of_each` view and of each report or kind of record; those that are pages.

    Of a view no more are opened once one, which was opened just now, `is_worth_more` not.
    """
    waiting, pages, opened, of_view = [start], [], set(), Counter[str]()
    while waiting:
        address = waiting.pop(0).partition("#")[0]
        try:
            found = resolve(address.partition("?")[0])
        except Resolver404:
            continue
        view = " ".join([found.view_name, *(one for one in found.kwargs.values() if isinstance(one, str))])
        is_file = address.partition("?")[0].endswith(FILES) or "export=" in address
        if address in opened or is_file or of_view[view] == of_each:
            continue
        opened.add(address)
        of_view[view] += 1
        page = client.get(address)
        if page.status_code == 200 and "html" in page["Content-Type"]:
            waiting += [html.unescape(link) for link in re.findall(r'href="(/[^"]*)"', page.content.decode())]
            pages.append(address)
        if not is_worth_more():
            of_view[view] = of_each
    return pages


@dataclass(frozen=True)
class Printed:
    """A printed amount and how much its last digit is worth."""

    value: Fraction
    last_digit: Fraction


def find_fault(step: Step) -> str | None:
    """What is wrong with a step that is a sum; "" when it comes to what it says, None when it is no sum.

    A figure may be rounded up, down or to the nearest: it is off by less than one of its last digit.
    """
    found, told = work(step.text), _read(step.result)
    if found is None or told is None:
        return None
    off = abs(found - told.value)
    return "" if off <= told.last_digit else f"{step.text} is {float(found)}, not {step.result}"


def work(text: str) -> Fraction | None:
    """What the sum in a text comes to, after the words before it; None when there is no sum in it."""
    words, _, sum_text = _plain(text).rpartition(": ")
    tokens = _tokens(sum_text)
    if not tokens or not {"×", "÷", "+", "−"} & set(tokens):
        return None
    try:
        # Only numbers and signs are in it.
        found = Fraction(eval(_as_python(tokens), {"__builtins__": {}, "F": Fraction}))
    except (SyntaxError, ZeroDivisionError, TypeError):
        return None
    return _root(found) if words.endswith("square root of") else found


def _as_python(tokens: list[Token]) -> str:
    """A length of time is printed in parts, "2 h 30 min", which belong together."""
    source = ""
    for place, token in enumerate(tokens):
        if isinstance(token, str):
            source += _PYTHON.get(token, token)
            continue
        before = place and isinstance(tokens[place - 1], Fraction)
        after = place + 1 < len(tokens) and isinstance(tokens[place + 1], Fraction)
        number = f"F({token.numerator}, {token.denominator})"
        source += ("+" if before else "(" if after else "") + number + (")" if before and not after else "")
    return source


def _root(square: Fraction) -> Fraction:
    return Fraction((Decimal(square.numerator) / square.denominator).sqrt())


def _read(text: str) -> Printed | None:
    """A printed amount; of a length of time in two parts both are added up."""
    plain = _plain(text)
    for ending in _ENDINGS:
        plain = plain.removesuffix(ending)
    sign = -1 if plain.startswith("−") else 1
    tokens = _tokens(plain.removeprefix("−")) or []
    numbers = [token for token in tokens if isinstance(token, Fraction)]
    if not numbers or len(numbers) != len(tokens):
        return None
    last = list(_TOKEN.finditer(plain))[-1]
    digits = len(last["number"].partition(".")[2])
    return Printed(sign * sum(numbers), _SCALE.get(last["unit"] or "", Fraction(1)) / 10**digits)


def _plain(text: str) -> str:
    plain = text.replace("\u00a0", " ")
    for word, sign in _WORDS.items():
        plain = plain.replace(word, sign)
    return plain


def _tokens(text: str) -> list[Token] | None:
    """Numbers, in the unit that the sums go by, and signs; None when anything else stands in the text."""
    found: list[Token] = []
    place = 0
    while place < len(text.rstrip()):
        token = _TOKEN.match(text, place)
        if token is None:
            return None
        place = token.end()
        if token["sign"]:
            found.append(token["sign"])
        else:
            found.append(Fraction(token["number"].replace(",", "")) * _SCALE.get(token["unit"] or "", 1))
    return found
