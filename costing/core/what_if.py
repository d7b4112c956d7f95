"""What a piece would cost if metal, an hour, failures or the number of pieces in its flask were otherwise.

Money is millionths of the currency, times are seconds.
"""

from dataclasses import dataclass, replace
from fractions import Fraction

from costing.core.lines import compute_value_at_rate
from costing.core.metal_price import AlloyPrice
from costing.core.wanted import CostParts
from studio.kit.units import SECONDS_PER_HOUR, round_half_up


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """A piece as it was made. `shared_micro` is its share of all that the flask used together, but metal and time."""

    parts: CostParts
    metal_mg: int
    price: AlloyPrice | None = None
    shared_micro: int = 0
    pieces: int = 1
    cast_seconds: int = 0
    own_seconds: int = 0
    hourly_micro: int = 0
    overhead_micro: int = 0
    failed_pct100: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """What is otherwise; None where nothing is. `pieces` would share the flask, `price` is what metal would cost."""

    price: AlloyPrice | None = None
    hourly_micro: int | None = None
    failed_pct100: int | None = None
    pieces: int | None = None


def suppose(basis: Basis, other: WhatIf) -> Basis:
    """The piece as it would be: with nothing otherwise exactly as it is."""
    parts, cast_seconds = basis.parts, basis.cast_seconds
    price = basis.price if other.price is None else other.price
    if other.price is not None:
        parts = replace(parts, today_micro=compute_value_at_rate(basis.metal_mg, other.price.micro_per_kg))
    if other.pieces is not None:
        share = Fraction(basis.pieces, other.pieces)
        cast_seconds = round_half_up(cast_seconds * share)
        shared_micro = round_half_up(basis.shared_micro * share)
        parts = replace(parts, other_micro=parts.other_micro - basis.shared_micro + shared_micro)
    hourly_micro = basis.hourly_micro if other.hourly_micro is None else other.hourly_micro
    if other.pieces is not None or other.hourly_micro is not None:
        seconds = cast_seconds + basis.own_seconds
        parts = replace(
            parts,
            time_micro=_cost_time(seconds, hourly_micro),
            overhead_micro=_cost_time(seconds, basis.overhead_micro),
            bench_seconds=seconds,
        )
    failed = basis.failed_pct100 if other.failed_pct100 is None else other.failed_pct100
    return replace(basis, parts=parts, price=price, hourly_micro=hourly_micro, failed_pct100=failed)


def _cost_time(seconds: int, micro_per_hour: int) -> int:
    return round_half_up(Fraction(seconds * micro_per_hour, SECONDS_PER_HOUR))
