"""How a figure was reached: the same object is shown by pages, reports and paper."""

from collections.abc import Iterable
from dataclasses import dataclass


class Source:
    """Words for figures that no published source stands behind."""

    COMMON_PRACTICE = "common practice"
    OWN_SETTING = "your own setting"
    STARTING = "the studio's starting figure"
    SETTING = "the studio's setting"


class Setting(int):
    """A whole figure that the studio may set and that knows whether it did; reckoned with, it is a plain number.

    `origin` is one of the words of `Source`.
    """

    origin: str

    def __new__(cls, value: int, origin: str = Source.SETTING) -> "Setting":
        made = super().__new__(cls, value)
        made.origin = origin
        return made


def origin_of(figure: int, otherwise: str = Source.SETTING) -> str:
    """Where a figure came from: what a setting says of itself, `otherwise` for a plain number."""
    return figure.origin if isinstance(figure, Setting) else otherwise


@dataclass(frozen=True, slots=True)
class Given:
    """One input: its name, its printed value with the unit, and where the value came from."""

    label: str
    value: str
    origin: str


@dataclass(frozen=True, slots=True)
class Step:
    """One line of the sum; `result` is what the line comes to, printed with its unit."""

    text: str
    result: str = ""


@dataclass(frozen=True, slots=True)
class Working:
    """A whole sum that a person can check by hand.

    `formula` is in words. `source` names a publication or is one of the words of `Source`.
    Every value is already printed text, so no page can round it a second time.
    """

    title: str
    formula: str
    givens: tuple[Given, ...]
    steps: tuple[Step, ...]
    result: str
    source: str
    notes: tuple[str, ...] = ()


def make_working(
    title: str,
    formula: str,
    *lines: Given | Step,
    result: str = "",
    source: str = Source.COMMON_PRACTICE,
    notes: Iterable[str] = (),
) -> Working:
    """A working from its inputs and steps, each in their order; it comes to what the last step does, if not told."""
    givens = tuple(line for line in lines if isinstance(line, Given))
    steps = tuple(line for line in lines if isinstance(line, Step))
    return Working(title, formula, givens, steps, result or steps[-1].result, source, tuple(notes))
