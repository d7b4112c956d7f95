"""The cost of closed casts: what the stock says of each, rolled up by the rules of its own day.

The number of queries does not depend on how many casts are asked for.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from costing.core.inputs import CastInput, PieceInput
from costing.core.rollup import CastCost, compute_cast_cost
from costing.core.sharing import CostLine
from costing.core.use import CastUse
from costing.models import Policy
from inventory.models import Cast, Piece
from inventory.queries.cast_metal import BACK, CHARGE, FILINGS, LOST, POWDER
from studio.kit.working import Working

from .gathering import CastStock, gather_minutes, gather_pieces, gather_stock
from .policy import all_policies, policy_input, policy_on
from .wear import CastWear


@dataclass(frozen=True, kw_only=True)
class CostSheet:
    """A closed cast or a plan as its cost is told: what went in, and what that comes to by the rules of its day."""

    policy: Policy
    inputs: CastInput
    use: CastUse

    @cached_property
    def cost(self) -> CastCost:
        """Raises ValueError where the metal does not add up: see check_cast_adds_up."""
        return compute_cast_cost(self.inputs, policy_input(self.policy))

    @cached_property
    def lines(self) -> list[CostLine]:
        """The lines that come to something."""
        return [line for line in self.cost.lines if line.total_micro or any(line.piece_micro)]

    @property
    def workings(self) -> tuple[Working, ...]:
        return (*(line.working for line in self.lines), *self.use.workings)


@dataclass(frozen=True, kw_only=True)
class CostedCast(CostSheet):
    """A closed cast as the stock, the bench notes and the rules of its day tell it.

    `pieces` stand in the order of the inputs' pieces and of the cost's piece columns; `piece_mg` says what each
    weighs today, or weighed when it left.
    """

    cast: Cast
    pieces: tuple[Piece, ...]
    piece_mg: tuple[int, ...]

    def place_of(self, piece_id: int) -> int:
        return next(place for place, piece in enumerate(self.pieces) if piece.pk == piece_id)


def cost_casts(cast_ids: Iterable[int]) -> dict[int, CostedCast]:
    """Each closed cast among these, by the rules of its own day. Open casts are left out."""
    casts = list(
        Cast.objects.filter(pk__in=list(cast_ids), closed_on__isnull=False).select_related("alloy", "owner")
    )
    ids = [cast.pk for cast in casts]
    stocks, pieces, minutes = gather_stock(ids), gather_pieces(ids), gather_minutes(ids)
    wear, policies = CastWear(casts), all_policies()
    costed = {}
    for cast in casts:
        policy, row, stock = policy_on(cast.day, policies), tuple(pieces[cast.pk]), stocks[cast.pk]
        use = wear.use_of(cast, policy)
        costed[cast.pk] = CostedCast(
            cast=cast,
            policy=policy,
            inputs=_cast_input(cast, stock, row, minutes, use),
            pieces=row,
            piece_mg=tuple(stock.pieces[piece.holder_id].quantity for piece in row),
            use=use,
        )
    return costed


def _cast_input(
    cast: Cast,
    stock: CastStock,
    pieces: Sequence[Piece],
    minutes: dict[tuple[int, int | None], int],
    use: CastUse,
) -> CastInput:
    charge, lost = stock.metal[CHARGE], stock.metal[LOST]
    back = stock.metal[BACK] + stock.metal[FILINGS]
    return CastInput(
        charge_mg=charge.quantity,
        charge_micro=charge.cost_micro,
        back_mg=back.quantity,
        back_micro=back.cost_micro,
        lost_mg=lost.quantity,
        lost_micro=lost.cost_micro,
        powder_micro=stock.metal[POWDER].cost_micro,
        pattern_micro=stock.pattern_micro,
        energy_micro=use.energy_micro,
        wear=use.wear,
        other_stock_micro=stock.used_micro,
        bench_minutes=minutes.get((cast.pk, None), 0),
        pieces=tuple(_piece_input(piece, stock, minutes) for piece in pieces),
        customer_metal=cast.owner_id is not None,
        failed=cast.outcome == Cast.Outcome.FAILED,
    )


def _piece_input(piece: Piece, stock: CastStock, minutes: dict[tuple[int, int | None], int]) -> PieceInput:
    melted = piece.state == Piece.State.MELTED
    return PieceInput(
        key=piece.pk,
        label=piece.name,
        mass_mg=0 if melted else piece.as_cast_mg,
        own_metal_micro=stock.pieces[piece.holder_id].cost_micro,
        pattern_volume_ul=_pattern_volume(piece),
        bench_minutes=minutes.get((piece.cast_id, piece.pk), 0),
        other_stock_micro=stock.piece_used_micro[piece.pk],
        is_good=not melted,
    )


def _pattern_volume(piece: Piece) -> int | None:
    """Thousandths of a millilitre, where the pattern was weighed and its material's density is known."""
    material = piece.pattern_material
    if piece.pattern_mass_mg is None or material is None or not material.density_mg_cm3:
        return None
    return piece.pattern_mass_mg * 1000 // material.density_mg_cm3
