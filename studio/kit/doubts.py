"""What is out of the ordinary is asked about once: the figure stands in a sentence beside its field, with a tick.

A form declares it: `doubts()` of a form that was found right gives sentences by the name of the field. The page comes
back with each of them and a tick; sent again with the tick, it is taken. A tick names the sentence that it stands by,
figure and all, so another figure is asked about anew.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256

SURE = "sure"
_KEY_DIGITS = 16


@dataclass(frozen=True)
class Doubt:
    """A sentence that asks, and whether it was answered: "Yes, it is right"."""

    sentence: str
    is_answered: bool = False

    @property
    def key(self) -> str:
        """What the tick sends."""
        return sha256(self.sentence.encode()).hexdigest()[:_KEY_DIGITS]


def doubt_of(sentence: str, ticks: Iterable[str]) -> Doubt:
    """The doubt as it stands after these ticks were sent."""
    return Doubt(sentence, Doubt(sentence).key in ticks)
