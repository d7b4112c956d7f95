"""What the studio's scale can show: weights that stand in one column have its decimals, no more and no less."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar

from studio.kit.rounding import round_column

_FINEST_DECIMALS = 3
_COMMON_DIVISION_MG = 10

_division_mg = ContextVar("scale_division_mg", default=_COMMON_DIVISION_MG)


@contextmanager
def showing_scale(division_mg: int) -> Iterator[None]:
    """Within this, columns of weights have the decimals of a scale that reads to so many milligrams."""
    token = _division_mg.set(division_mg)
    try:
        yield
    finally:
        _division_mg.reset(token)


def scale_decimals() -> int:
    """Decimals of a gram that the scale shows: 2 for one that reads to 0.01 or 0.05 g, 3 at most."""
    decimals, division = _FINEST_DECIMALS, _division_mg.get()
    while decimals and division and division % 10 == 0:
        decimals, division = decimals - 1, division // 10
    return decimals


def round_weights(masses_mg: Sequence[int]) -> list[int]:
    """Milligrams of one column as those decimals show them: they add up to their own sum as it is shown.

    What was weighed stays as it is; shares of a weight that was taken together may be finer than the scale.
    """
    return round_column(masses_mg, 10 ** (_FINEST_DECIMALS - scale_decimals()))
