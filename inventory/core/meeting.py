"""Metals that must not meet in one crucible: which families they are of, and the reason for a word of care."""

from collections.abc import Iterable
from dataclasses import dataclass

_WHY = {
    "silver": "copper alloys and gold left on the wall change its fineness and its colour",
    "gold": "silver and copper change its carat, and a trace of lead or tin makes it crack",
    "platinum": "carbon, silicon and any base metal from an old crucible make it brittle",
    "palladium": "carbon, silicon and any base metal from an old crucible make it brittle",
    "base": "the precious metal that it melted goes into it and is lost",
}
KEEP_ONE = "Keep a crucible for each family of metal, and mark it."


@dataclass(frozen=True, slots=True)
class Melted:
    """A family of metal ("silver", "gold"..., "base") that a crucible melted, and the last cast with it."""

    metal: str
    number: int


def family_words(metal: str) -> str:
    return "bronze, brass or copper" if metal == "base" else metal


def warn_of_meeting(crucible: str, metal: str, melted: Iterable[Melted]) -> str:
    """Why this metal should not go into a crucible that melted another family; "" where nothing speaks against it.

    Common practice. It informs, and forbids nothing.
    """
    others = [one for one in melted if one.metal != metal]
    if not others:
        return ""
    last = max(others, key=lambda one: one.number)
    words = " and ".join(dict.fromkeys(family_words(one.metal) for one in others))
    return (
        f"{crucible} has melted {words} (last for cast {last.number}), and this is {family_words(metal)}: "
        f"{_WHY[metal]}. {KEEP_ONE}"
    )
