"""The cost of closed casts: what ledger and bench notes say of each, rolled up by the rules of its own day.

The number of queries does not depend on how many casts are asked for.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any

from django.db.models import QuerySet, Sum

from costing.core.inputs import CastInput, PieceInput
from costing.core.rollup import CastCost, PrintedCost, compute_cast_cost, compute_printed
from costing.core.sharing import CostLine
from costing.core.wear import CastUse
from costing.models import OutsideShare, Policy
from inventory.core.ledger import Amount
from inventory.models import Alloy, BenchShare, BenchTime, Cast, Entry, Material, Piece
from inventory.queries.cast_metal import (
    BACK,
    CHARGE,
    FILINGS,
    LOST,
    PIECES,
    POWDER,
    CastMetal,
    Moved,
    follow_metal,
)
from inventory.queries.kept import kept_for
from inventory.queries.ledger import STANDING
from studio.kit.models import in_order
from studio.kit.units import SECONDS_PER_MINUTE
from studio.kit.working import Working

from .findings import NO_FINDINGS, PieceFindings, gather_findings
from .policy import all_policies, policy_input, policy_on
from .wear import CastWear


@dataclass
class CastStock:
    """What the ledger says of one cast: where its metal is, and what else it took from stock, in millionths."""

    moved: list[Moved] = field(default_factory=list)
    pattern_micro: int = 0
    used_micro: int = 0
    pieces: dict[int, Amount] = field(default_factory=lambda: defaultdict(Amount))
    piece_used_micro: dict[int, int] = field(default_factory=lambda: defaultdict(int))

    @cached_property
    def metal(self) -> dict[str, Amount]:
        return CastMetal(tuple(self.moved)).now


def gather_stock(cast_ids: Sequence[int]) -> dict[int, CastStock]:
    gathered: dict[int, CastStock] = defaultdict(CastStock)
    rows = follow_metal(STANDING, entry__cast__in=cast_ids).values_list(
        "entry__cast_id",
        "entry__kind",
        "entry__piece_id",
        "source_id",
        "target_id",
        "into",
        "out_of",
        "quantity",
        "fine_ug",
        "cost_micro",
    )
    for cast_id, kind, piece_id, source, target, into, out_of, *numbers in rows:
        stock, amount = gathered[cast_id], Amount(*numbers)
        if kind == Entry.Kind.TREE:
            stock.pattern_micro += amount.cost_micro
        elif kind == Entry.Kind.USE and piece_id:
            stock.piece_used_micro[piece_id] += amount.cost_micro
        elif kind == Entry.Kind.USE:
            stock.used_micro += amount.cost_micro
        else:
            stock.moved.append(Moved(kind, into, out_of, 1, *numbers))
        if into == PIECES:
            stock.pieces[target] += amount
        if out_of == PIECES:
            stock.pieces[source] -= amount
    return gathered


def gather_pieces(cast_ids: Sequence[int]) -> dict[int, list[Piece]]:
    gathered: dict[int, list[Piece]] = defaultdict(list)
    pieces = in_order(Piece.objects.filter(cast__in=cast_ids, void=False), "cast_id", "number")
    # A studio has a handful of pattern materials and thousands of pieces: each material is read once.
    materials = Material.objects.order_by().in_bulk({piece.pattern_material_id for piece in pieces} - {None})
    for piece in pieces:
        piece.pattern_material = materials.get(piece.pattern_material_id)
        gathered[piece.cast_id].append(piece)
    return gathered


def gather_seconds(cast_ids: Sequence[int]) -> dict[tuple[int, int | None], int]:
    """Time at the bench by (cast, piece), piece None for time on the cast as a whole; trays by their shares."""
    spent: dict[tuple[int, int | None], int] = defaultdict(int)
    for cast, piece, seconds in _seconds(cast_ids):
        spent[cast, piece] += seconds
    return spent


@kept_for
def _seconds(cast_ids: Collection[int]) -> QuerySet[Any, Any]:
    rows = BenchTime.objects.filter(cast__in=cast_ids, basis="").values_list("cast_id", "piece_id")
    own = rows.annotate(total=Sum("minutes") * SECONDS_PER_MINUTE).order_by()
    shares = BenchShare.objects.filter(time__cast__in=cast_ids).values_list("time__cast_id", "piece_id")
    return own.union(shares.annotate(total=Sum("seconds")).order_by(), all=True)


def gather_outside(cast_ids: Sequence[int]) -> dict[int, int]:
    """What each piece carries of bills for work and parts from outside, by piece."""
    return dict(_outside(cast_ids))


@kept_for
def _outside(cast_ids: Collection[int]) -> QuerySet[Any, Any]:
    shares = OutsideShare.objects.filter(piece__cast__in=cast_ids).order_by().values_list("piece_id")
    return shares.annotate(total=Sum("amount_micro"))


def latest_closed_cast() -> Cast | None:
    return Cast.objects.filter(closed_on__isnull=False).order_by("-day", "-number").first()


def closed_cast_ids(first: date, last: date, alloy: Alloy | None = None) -> list[int]:
    """The casts poured in a time and closed since."""
    casts = Cast.objects.filter(closed_on__isnull=False, day__gte=first, day__lte=last)
    if alloy is not None:
        casts = casts.filter(alloy=alloy)
    return list(casts.values_list("pk", flat=True))


@dataclass(frozen=True, kw_only=True)
class CostSheet:
    """A closed cast or a plan as its cost is told: what went in, and what that comes to by the rules of its day."""

    policy: Policy
    inputs: CastInput
    use: CastUse
    _printed: dict[int, PrintedCost] = field(default_factory=dict, init=False)

    @cached_property
    def cost(self) -> CastCost:
        """Raises ValueError where the metal does not add up: see check_cast_adds_up."""
        return compute_cast_cost(self.inputs, policy_input(self.policy))

    def printed(self, unit_micro: int) -> PrintedCost:
        """The cost in whole pennies that add up; rounded once, however many of its pieces are asked about."""
        if unit_micro not in self._printed:
            self._printed[unit_micro] = compute_printed(self.cost, unit_micro)
        return self._printed[unit_micro]

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
    findings: Mapping[int, PieceFindings] = field(default_factory=dict)

    def findings_of(self, place: int) -> PieceFindings:
        """What of a piece is in its findings of the same metal."""
        return self.findings.get(self.pieces[place].pk, NO_FINDINGS)

    def place_of(self, piece_id: int) -> int:
        return next(place for place, piece in enumerate(self.pieces) if piece.pk == piece_id)


def cost_casts(cast_ids: Collection[int], policies: Sequence[Policy] | None = None) -> dict[int, CostedCast]:
    """Each closed cast among these, by the rules of its own day. Open casts are left out.

    `policies` are all cost rules, for who has read them already. Keys that are a query are asked for with the casts.
    """
    casts = list(
        Cast.objects.filter(pk__in=cast_ids, closed_on__isnull=False).select_related(
            "alloy", "owner", "firing"
        )
    )
    ids = [cast.pk for cast in casts]
    stocks, pieces, seconds = gather_stock(ids), gather_pieces(ids), gather_seconds(ids)
    wear, outside = CastWear(casts), gather_outside(ids)
    policies = all_policies() if policies is None else policies
    findings = gather_findings(casts)
    costed = {}
    for cast in casts:
        policy, row, stock = policy_on(cast.day, policies), tuple(pieces[cast.pk]), stocks[cast.pk]
        use = wear.use_of(cast, policy)
        costed[cast.pk] = CostedCast(
            cast=cast,
            policy=policy,
            inputs=_cast_input(cast, stock, row, seconds, use, outside),
            pieces=row,
            piece_mg=tuple(stock.pieces[piece.holder_id].quantity for piece in row),
            use=use,
            findings=findings,
        )
    return costed


def _cast_input(
    cast: Cast,
    stock: CastStock,
    pieces: Sequence[Piece],
    seconds: dict[tuple[int, int | None], int],
    use: CastUse,
    outside: dict[int, int],
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
        bench_seconds=seconds.get((cast.pk, None), 0),
        pieces=tuple(_piece_input(piece, stock, seconds, outside) for piece in pieces),
        customer_metal=cast.owner_id is not None,
        failed=cast.outcome != Cast.Outcome.GOOD,
    )


def _piece_input(
    piece: Piece, stock: CastStock, seconds: dict[tuple[int, int | None], int], outside: dict[int, int]
) -> PieceInput:
    melted = piece.state == Piece.State.MELTED
    return PieceInput(
        key=piece.pk,
        label=piece.name,
        mass_mg=0 if melted else piece.as_cast_mg,
        own_metal_micro=stock.pieces[piece.holder_id].cost_micro,
        pattern_volume_ul=_pattern_volume(piece),
        bench_seconds=seconds.get((piece.cast_id, piece.pk), 0),
        other_stock_micro=stock.piece_used_micro[piece.pk],
        outside_micro=outside.get(piece.pk, 0),
        is_good=not melted,
    )


def _pattern_volume(piece: Piece) -> int | None:
    """Thousandths of a millilitre, where the pattern was weighed and its material's density is known."""
    material = piece.pattern_material
    if piece.pattern_mass_mg is None or material is None or not material.density_mg_cm3:
        return None
    return piece.pattern_mass_mg * 1000 // material.density_mg_cm3
