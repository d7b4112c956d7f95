"""How a figure was reached: the same object is shown by pages, reports and paper."""

from dataclasses import dataclass


class Source:
    """Words for figures that no published source stands behind."""

    COMMON_PRACTICE = "common practice"
    OWN_SETTING = "your own setting"
    RULES = "the studio's rules"


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
