"""What a cost knows nothing of: time, a firing, energy. Said beside the figure, and in the price it leads to."""

from collections.abc import Sequence
from enum import StrEnum

from costing.queries.costed import CostedCast


class Lack(StrEnum):
    """What is missing, as it is said after "without"."""

    TIME = "any time at the bench"
    FIRING = "a firing"
    ENERGY = "energy"


def find_lacks(costed: CostedCast, bench_seconds: int) -> list[Lack]:
    """What is not in the cost of a cast, or of a piece of it, that has so much time at the bench."""
    found = [] if bench_seconds else [Lack.TIME]
    if costed.cast.firing_id is None:
        return [*found, Lack.FIRING]
    return found if costed.use.energy_micro else [*found, Lack.ENERGY]


def say_lacks(lacks: Sequence[Lack]) -> str:
    """ ", without any time at the bench or a firing" """
    return f", without {' or '.join(lacks)}" if lacks else ""


def say_unpaid(lacks: Sequence[Lack], of_cast: bool = False) -> list[str]:
    """A sentence for each, for the price of a piece, or for those of a cast."""
    where, price, whose = ("", "they pay", "the") if of_cast else (" for it", "this price pays", "its")
    cast = "" if of_cast else " for its cast"
    said = {
        Lack.TIME: f"No time at the bench is written down{where}: {price} for none.",
        Lack.FIRING: f"No firing is written down{cast}: {price} for none.",
        Lack.ENERGY: f"What {whose} firing used is not known, or has no price: {price} for no energy.",
    }
    return [said[lack] for lack in lacks]
