"""What the roll-up of a cast is told: the grams and costs from the stock, and the studio's policy.

Masses are milligrams, volumes thousandths of a millilitre, times seconds, money millionths of the currency.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from types import MappingProxyType

from studio.kit.working import Source


class Basis(StrEnum):
    """How the pieces of a cast share a cost that no single piece made."""

    GRAMS = "grams"
    EQUALLY = "equally"
    VOLUME = "volume"


OWN_METAL = "own_metal"
LOST_METAL = "lost_metal"
WRITE_DOWN = "reclaim_write_down"
POWDER = "powder"
PATTERN = "pattern"
ENERGY = "energy"
WEAR = "wear"
CONSUMABLES = "consumables"
OTHER_STOCK = "other_stock"
OUTSIDE = "outside"
BENCH_CAST = "bench_cast"
BENCH_PIECE = "bench_piece"
OVERHEAD = "overhead"

LINE_LABELS: Mapping[str, str] = MappingProxyType(
    {
        OWN_METAL: "Own metal",
        LOST_METAL: "Metal lost, normal",
        WRITE_DOWN: "Button and sprues written down",
        POWDER: "Powder",
        PATTERN: "Pattern material",
        ENERGY: "Kiln energy",
        WEAR: "Wear",
        CONSUMABLES: "Consumables",
        OTHER_STOCK: "Other stock",
        OUTSIDE: "Work and parts from outside",
        BENCH_CAST: "Bench time on the cast",
        BENCH_PIECE: "Bench time on the piece",
        OVERHEAD: "Overhead on time",
    }
)
"""Every line of a cost, in the order in which they are shown."""

DEFAULT_BASES: Mapping[str, Basis] = MappingProxyType(
    {
        LOST_METAL: Basis.GRAMS,
        WRITE_DOWN: Basis.GRAMS,
        POWDER: Basis.GRAMS,
        PATTERN: Basis.GRAMS,
        ENERGY: Basis.EQUALLY,
        WEAR: Basis.EQUALLY,
        CONSUMABLES: Basis.EQUALLY,
        OTHER_STOCK: Basis.EQUALLY,
        BENCH_CAST: Basis.EQUALLY,
        OVERHEAD: Basis.EQUALLY,
    }
)
"""The lines that can be shared, and how, where a policy does not say."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceInput:
    """One piece of a cast and what only it has used.

    `mass_mg` as cast is its weight in sharing by grams. `own_metal_micro` is the cost of the metal that is
    still in it. A piece that was scrapped is not good: it shares nothing, what was spent on it is set
    aside, and its `mass_mg` is what it still holds (0 once its metal went back to the tin).
    """

    key: int
    label: str
    mass_mg: int
    own_metal_micro: int = 0
    pattern_volume_ul: int | None = None
    bench_seconds: int = 0
    other_stock_micro: int = 0
    outside_micro: int = 0
    is_good: bool = True


@dataclass(frozen=True, slots=True)
class Origins:
    """Where the figures of a cast came from, in the words of its workings."""

    charge: str = "its lots"
    back: str = "returned at cost"
    lost: str = "weighed"
    held: str = "the stock"
    used: str = "the stock"
    firing: str = "the firing"
    bench: str = "bench notes"


AS_RECORDED = Origins()


@dataclass(frozen=True, kw_only=True)
class CastInput:
    """One cast, closed as the stock knows it or planned: `origins` say which.

    `back_*` is all metal that returned to stock at cost: button, sprues, spill, filings. `lost_*` is what
    was lost in the pour and in finishing together; it may be a hair below zero, the scale's error.
    The cost of the charge is the cost of what is in the pieces, what came back and what was lost.
    """

    charge_mg: int
    charge_micro: int
    back_mg: int = 0
    back_micro: int = 0
    lost_mg: int = 0
    lost_micro: int = 0
    powder_micro: int = 0
    pattern_micro: int = 0
    energy_micro: int = 0
    wear: tuple[tuple[str, int], ...] = ()
    other_stock_micro: int = 0
    bench_seconds: int = 0
    pieces: tuple[PieceInput, ...] = ()
    customer_metal: bool = False
    failed: bool = False
    origins: Origins = AS_RECORDED

    @cached_property
    def good_places(self) -> tuple[int, ...]:
        """Where in `pieces` those stand that carry the cost; none when the cast failed."""
        if self.failed:
            return ()
        return tuple(place for place, piece in enumerate(self.pieces) if piece.is_good)

    @property
    def good_mg(self) -> int:
        """Metal that is still in good pieces."""
        scrapped_mg = sum(piece.mass_mg for piece in self.pieces if not piece.is_good)
        return self.charge_mg - self.back_mg - self.lost_mg - scrapped_mg


@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyInput:
    """What the studio has decided: which loss is normal, how costs are shared, what time is worth.

    `reclaim_resale_micro_per_kg` None leaves returned metal at what it cost. `starting_bases` are the lines that are
    shared as a studio begins with, by nobody's choice.
    """

    normal_loss_pct100: int = 0
    bases: Mapping[str, str] = field(default_factory=dict)
    starting_bases: frozenset[str] = frozenset()
    hourly_rate_micro: int = 0
    overhead_per_hour_micro: int = 0
    consumables_per_cast_micro: int = 0
    consumables_per_piece_micro: int = 0
    reclaim_resale_micro_per_kg: int | None = None

    def basis_of(self, line: str) -> Basis:
        """The basis of a line that can be shared. Raises ValueError for a basis that does not exist."""
        return Basis(self.bases.get(line, DEFAULT_BASES[line]))

    def basis_origin_of(self, line: str) -> str:
        is_own = line in self.bases and line not in self.starting_bases
        return Source.OWN_SETTING if is_own else Source.STARTING


def check_cast_adds_up(cast: CastInput) -> tuple[str, ...]:
    """Say why a cast cannot be rolled up: its metal must be in pieces, back, or lost, to the last unit."""
    held_micro = sum(piece.own_metal_micro for piece in cast.pieces)
    accounted_micro = held_micro + cast.back_micro + cast.lost_micro
    if accounted_micro != cast.charge_micro:
        return (
            f"The charge cost {cast.charge_micro} millionths and {accounted_micro} are in its pieces, "
            "returned or lost: close the cast first.",
        )
    return ()
