"""The steps of a cast, and where its grams are while it is under way and after it is closed."""

from collections.abc import Collection
from dataclasses import dataclass

from .weighing import compute_share_pct100

STEP_TASKS = {
    "tree": "weigh the tree",
    "powder": "invest the flask",
    "firing": "burn out the flask",
    "charge": "weigh the charge",
    "pour": "pour",
    "weights": "weigh what came out",
}
"""In the order of the work. Any may be passed over, except the charge before the weights."""

STEPS = tuple(STEP_TASKS)


def find_next_step(done: Collection[str]) -> str:
    """The first step after the last one that is done; "" when the weights are in.

    A step that was passed over is not asked for again: a tree nobody weighed cannot be weighed after the pour.
    """
    places = [place for place, step in enumerate(STEPS) if step in done]
    following = max(places, default=-1) + 1
    if following < len(STEPS):
        return STEPS[following]
    return ""


@dataclass(frozen=True, slots=True)
class Grams:
    """Where a charge is, in milligrams: pieces, back to the tin, filings and spill, lost."""

    charge_mg: int = 0
    pieces_mg: int = 0
    back_mg: int = 0
    filings_mg: int = 0
    lost_mg: int = 0

    @property
    def lost_pct100(self) -> int | None:
        return compute_share_pct100(self.lost_mg, self.charge_mg)

    @property
    def yield_pct100(self) -> int | None:
        """Pieces over charge."""
        return compute_share_pct100(self.pieces_mg, self.charge_mg)
