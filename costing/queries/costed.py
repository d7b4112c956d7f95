"""The cost of closed casts: what the stock says of each, rolled up by the rules of its own day.

The number of queries does not depend on how many casts are asked for.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from costing.core.rollup import CastCost, CastInput, PieceInput, compute_cast_cost
from costing.core.use import CastUse
from costing.models import Policy
from inventory.models import Cast, Piece
from inventory.queries.cast_metal import BACK, CHARGE, FILINGS, LOST, POWDER

from .gathering import CastStock, gather_minutes, gather_pieces, gather_stock
from .policy import all_policies, policy_input, policy_on
from .tools import Tools


@dataclass(frozen=True)
class CastReading:
    """A closed cast as the stock, the bench notes and the rules of its day tell it.

    `pieces` stand in the order of the inputs' pieces, and `piece_mg` says what each weighs today, or weighed
    when it left.
    """

    cast: Cast
    policy: Policy
    inputs: CastInput
    pieces: tuple[Piece, ...]
    piece_mg: tuple[int, ...]
    use: CastUse


@dataclass(frozen=True)
class CostedCast(CastReading):
    """The same with what it cost: `pieces` stand in the order of the cost's piece columns."""

    cost: CastCost

    def place_of(self, piece_id: int) -> int:
        return next(place for place, piece in enumerate(self.pieces) if piece.pk == piece_id)


def cost_casts(cast_ids: Iterable[int]) -> dict[int, CostedCast]:
    """Cost of each closed cast among these, by the rules of its own day. Open casts are left out."""
    return {pk: cost_reading(reading) for pk, reading in read_casts(cast_ids).items()}


def cost_reading(reading: CastReading) -> CostedCast:
    cost = compute_cast_cost(reading.inputs, policy_input(reading.policy))
    return CostedCast(**vars(reading), cost=cost)


def read_casts(cast_ids: Iterable[int]) -> dict[int, CastReading]:
    """What a roll-up needs of each closed cast among these; open casts are left out."""
    casts = list(
        Cast.objects.filter(pk__in=list(cast_ids), closed_on__isnull=False).select_related("alloy", "owner")
    )
    ids = [cast.pk for cast in casts]
    stocks, pieces, minutes = gather_stock(ids), gather_pieces(ids), gather_minutes(ids)
    tools, policies = Tools(casts), all_policies()
    readings = {}
    for cast in casts:
        policy, row = policy_on(cast.day, policies), tuple(pieces[cast.pk])
        use = tools.use_of(cast, policy)
        readings[cast.pk] = CastReading(
            cast=cast,
            policy=policy,
            inputs=_cast_input(cast, stocks[cast.pk], row, minutes, use),
            pieces=row,
            piece_mg=tuple(stocks[cast.pk].pieces[piece.holder_id].quantity for piece in row),
            use=use,
        )
    return readings


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
