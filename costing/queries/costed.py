"""The cost of closed casts: what the stock says of each, rolled up by the rules of its own day.

The number of queries does not depend on how many casts are asked for.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from costing.core.rollup import CastCost, CastInput, PieceInput, compute_cast_cost
from costing.core.use import cost_firing, wear_of_tools
from costing.models import Policy
from inventory.models import Cast, Piece
from studio.kit.working import Working

from .gathering import Grams, gather_firing_mates, gather_grams, gather_minutes, gather_pieces
from .policy import all_policies, policy_input, policy_on
from .tools import closed_casts, firing_use, tool_uses


@dataclass(frozen=True)
class CostedCast:
    """A closed cast with what it cost: `pieces` stand in the order of the cost's piece columns."""

    cast: Cast
    policy: Policy
    inputs: CastInput
    cost: CastCost
    pieces: tuple[Piece, ...]
    use_workings: tuple[Working, ...]

    def place_of(self, piece_id: int) -> int:
        return next(place for place, piece in enumerate(self.pieces) if piece.pk == piece_id)


def cost_casts(cast_ids: Iterable[int]) -> dict[int, CostedCast]:
    """Cost of each closed cast among these, by the rules of its own day. Open casts are left out."""
    casts = list(closed_casts(cast_ids))
    ids = [cast.pk for cast in casts]
    grams = gather_grams(ids)
    pieces = gather_pieces(ids)
    minutes = gather_minutes(ids)
    mates = gather_firing_mates([cast.firing_id for cast in casts if cast.firing_id])
    policies = all_policies()
    costed = {}
    for cast in casts:
        policy = policy_on(cast.day, policies)
        firing = firing_use(cast, policy, mates)
        energy_micro, kiln_wear, workings = cost_firing(firing) if firing else (0, (), ())
        tools, tool_workings = wear_of_tools(tool_uses(cast))
        inputs = _cast_input(cast, grams[cast.pk], pieces[cast.pk], minutes, energy_micro, kiln_wear + tools)
        cost = compute_cast_cost(inputs, policy_input(policy))
        row = tuple(pieces[cast.pk])
        costed[cast.pk] = CostedCast(cast, policy, inputs, cost, row, workings + tool_workings)
    return costed


def _cast_input(
    cast: Cast,
    grams: Grams,
    pieces: Sequence[Piece],
    minutes: dict[tuple[int, int | None], int],
    energy_micro: int,
    wear: tuple[tuple[str, int], ...],
) -> CastInput:
    return CastInput(
        charge_mg=grams.charge.quantity,
        charge_micro=grams.charge.cost_micro,
        back_mg=grams.back.quantity,
        back_micro=grams.back.cost_micro,
        lost_mg=grams.lost.quantity,
        lost_micro=grams.lost.cost_micro,
        powder_micro=grams.powder_micro,
        pattern_micro=grams.pattern_micro,
        energy_micro=energy_micro,
        wear=wear,
        other_stock_micro=grams.used_micro,
        bench_minutes=minutes.get((cast.pk, None), 0),
        pieces=tuple(_piece_input(piece, grams, minutes) for piece in pieces),
        customer_metal=cast.owner_id is not None,
        failed=cast.outcome == Cast.Outcome.FAILED,
    )


def _piece_input(piece: Piece, grams: Grams, minutes: dict[tuple[int, int | None], int]) -> PieceInput:
    melted = piece.state == Piece.State.MELTED
    return PieceInput(
        key=piece.pk,
        label=piece.name,
        mass_mg=0 if melted else piece.as_cast_mg,
        own_metal_micro=grams.pieces[piece.holder_id].cost_micro,
        pattern_volume_ul=_pattern_volume(piece),
        bench_minutes=minutes.get((piece.cast_id, piece.pk), 0),
        other_stock_micro=grams.piece_used_micro[piece.pk],
        is_good=not melted,
    )


def _pattern_volume(piece: Piece) -> int | None:
    """Thousandths of a millilitre, where the pattern was weighed and its material's density is known."""
    material = piece.pattern_material
    if piece.pattern_mass_mg is None or material is None or not material.density_mg_cm3:
        return None
    return piece.pattern_mass_mg * 1000 // material.density_mg_cm3
