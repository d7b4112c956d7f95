"""What costing reads of the stock and of its own rules: everything a roll-up needs, for many casts at once.

The number of queries does not depend on how many casts are asked for.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Count, IntegerField, OuterRef, Q, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from costing.core.rollup import CastCost, CastInput, PieceInput, PolicyInput, compute_cast_cost
from costing.core.use import FiringUse, ToolUse, cost_firing, wear_of_tools
from costing.models import MetalPrice, Policy
from inventory.core.ledger import Amount
from inventory.core.powder import compute_flask_volume
from inventory.models import BenchTime, Cast, Entry, Equipment, Firing, Holder, Movement, Piece
from inventory.queries.casting import STANDING
from studio.kit.working import Working

TOOLS = ("flask", "crucible", "machine", "pump")
BASIS_FIELDS = {
    "lost_metal": "loss_basis",
    "reclaim_write_down": "loss_basis",
    "powder": "powder_basis",
    "pattern": "pattern_basis",
    "energy": "energy_basis",
    "wear": "wear_basis",
    "consumables": "consumables_basis",
    "other_stock": "consumables_basis",
    "bench_cast": "time_basis",
    "overhead": "time_basis",
}


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


@dataclass
class Grams:
    """What the ledger says of one cast, gathered from its movements."""

    charge: Amount = field(default_factory=Amount)
    back: Amount = field(default_factory=Amount)
    lost: Amount = field(default_factory=Amount)
    powder_micro: int = 0
    pattern_micro: int = 0
    used_micro: int = 0
    pieces: dict[int, Amount] = field(default_factory=lambda: defaultdict(Amount))
    piece_used_micro: dict[int, int] = field(default_factory=lambda: defaultdict(int))


def policy_on(day: date, policies: Sequence[Policy]) -> Policy:
    """The cost rules in force on a day; before the first ones, and with none, plain defaults (not saved)."""
    for policy in policies:
        if policy.from_day <= day:
            return policy
    return policies[-1] if policies else Policy(from_day=day)


def all_policies() -> list[Policy]:
    return list(Policy.objects.order_by("-from_day"))


def policy_input(policy: Policy) -> PolicyInput:
    return PolicyInput(
        normal_loss_pct100=policy.normal_loss_pct100,
        bases={line: getattr(policy, name) for line, name in BASIS_FIELDS.items()},
        hourly_rate_micro=policy.hourly_rate_micro,
        overhead_per_hour_micro=policy.overhead_per_hour_micro,
        consumables_per_cast_micro=policy.consumables_per_cast_micro,
        consumables_per_piece_micro=policy.consumables_per_piece_micro,
        reclaim_resale_micro_per_kg=policy.reclaim_resale_micro_per_kg,
    )


def cost_casts(cast_ids: Iterable[int]) -> dict[int, CostedCast]:
    """Cost of each closed cast among these, by the rules of its own day. Open casts are left out."""
    casts = list(_closed_casts(cast_ids))
    ids = [cast.pk for cast in casts]
    grams = _gather_grams(ids)
    pieces = _gather_pieces(ids)
    minutes = _gather_minutes(ids)
    mates = _gather_firing_mates([cast.firing_id for cast in casts if cast.firing_id])
    policies = all_policies()
    costed = {}
    for cast in casts:
        policy = policy_on(cast.day, policies)
        firing = _firing_use(cast, policy, mates)
        energy_micro, kiln_wear, workings = cost_firing(firing) if firing else (0, (), ())
        tools, tool_workings = wear_of_tools(_tool_uses(cast))
        inputs = _cast_input(cast, grams[cast.pk], pieces[cast.pk], minutes, energy_micro, kiln_wear + tools)
        cost = compute_cast_cost(inputs, policy_input(policy))
        row = tuple(pieces[cast.pk])
        costed[cast.pk] = CostedCast(cast, policy, inputs, cost, row, workings + tool_workings)
    return costed


def latest_metal_prices() -> dict[int, MetalPrice]:
    """The newest price of each alloy, by alloy id."""
    newest = MetalPrice.objects.filter(alloy=OuterRef("alloy")).order_by("-day")
    prices = MetalPrice.objects.filter(pk=Subquery(newest.values("pk")[:1])).select_related("alloy")
    return {price.alloy_id: price for price in prices}


def _uses_before(tool: str) -> Coalesce:
    """How many poured casts used the same tool before this one, by day and then by number."""
    earlier = (
        Cast.objects.filter(Q(day__lt=OuterRef("day")) | Q(day=OuterRef("day"), pk__lt=OuterRef("pk")))
        .filter(**{tool: OuterRef(tool)}, closed_on__isnull=False)
        .order_by()
        .values(tool)
        .annotate(count=Count("pk"))
        .values("count")
    )
    return Coalesce(Subquery(earlier, output_field=IntegerField()), Value(0))


def _minutes_before() -> Coalesce:
    """Minutes that the kiln of the cast's firing had run before it."""
    firing = Firing.objects.filter(kiln=OuterRef("firing__kiln")).filter(
        Q(day__lt=OuterRef("firing__day")) | Q(day=OuterRef("firing__day"), pk__lt=OuterRef("firing"))
    )
    total = firing.order_by().values("kiln").annotate(total=Sum("minutes")).values("total")
    return Coalesce(Subquery(total, output_field=IntegerField()), Value(0))


def _closed_casts(cast_ids: Iterable[int]) -> QuerySet[Cast]:
    before = {f"{tool}_before": _uses_before(tool) for tool in TOOLS}
    return (
        Cast.objects.filter(pk__in=list(cast_ids), closed_on__isnull=False)
        .select_related("alloy", "owner", "firing__kiln", *TOOLS)
        .annotate(**before, kiln_minutes_before=_minutes_before())
    )


def _gather_grams(cast_ids: Sequence[int]) -> dict[int, Grams]:
    gathered: dict[int, Grams] = defaultdict(Grams)
    rows = (
        Movement.objects.filter(**STANDING, entry__cast__in=cast_ids)
        .exclude(entry__kind=Entry.Kind.SALE)
        .values_list(
            "entry__cast_id",
            "entry__kind",
            "entry__piece_id",
            "source_id",
            "target_id",
            "source__kind",
            "target__kind",
            "target__place",
            "quantity",
            "fine_ug",
            "cost_micro",
        )
    )
    for cast_id, kind, piece_id, source, target, source_kind, target_kind, place, *numbers in rows:
        grams, amount = gathered[cast_id], Amount(*numbers)
        if kind == Entry.Kind.POWDER:
            grams.powder_micro += amount.cost_micro
        elif kind == Entry.Kind.TREE:
            grams.pattern_micro += amount.cost_micro
        elif kind == Entry.Kind.USE and piece_id:
            grams.piece_used_micro[piece_id] += amount.cost_micro
        elif kind == Entry.Kind.USE:
            grams.used_micro += amount.cost_micro
        elif kind == Entry.Kind.CHARGE:
            grams.charge += amount if target_kind == Holder.Kind.CRUCIBLE else Amount()
        else:
            _follow_metal(grams, amount, (source, source_kind), (target, target_kind), place)
    return gathered


def _follow_metal(
    grams: Grams, amount: Amount, source: tuple[int, str], target: tuple[int, str], target_place: str
) -> None:
    """After the charge: metal enters a piece, the tin or "lost", and leaves a piece or "lost" again."""
    if source[1] == Holder.Kind.PIECE:
        grams.pieces[source[0]] -= amount
    elif source[1] == Holder.Kind.OUTSIDE:
        grams.lost -= amount
    if target[1] == Holder.Kind.PIECE:
        grams.pieces[target[0]] += amount
    elif target[1] == Holder.Kind.LOT:
        grams.back += amount
    elif target_place == Holder.Place.LOST:
        grams.lost += amount


def _gather_pieces(cast_ids: Sequence[int]) -> dict[int, list[Piece]]:
    gathered: dict[int, list[Piece]] = defaultdict(list)
    pieces = Piece.objects.filter(cast__in=cast_ids, void=False).select_related("pattern_material")
    for piece in pieces.order_by("cast", "number"):
        gathered[piece.cast_id].append(piece)
    return gathered


def _gather_minutes(cast_ids: Sequence[int]) -> dict[tuple[int, int | None], int]:
    """Bench minutes by (cast, piece), piece None for time on the cast as a whole."""
    rows = BenchTime.objects.filter(cast__in=cast_ids).values_list("cast_id", "piece_id")
    return {(cast, piece): total for cast, piece, total in rows.annotate(total=Sum("minutes")).order_by()}


def _gather_firing_mates(firing_ids: Sequence[int]) -> dict[int, list[tuple[int, int]]]:
    """For each firing, (cast id, flask volume in thousandths of a millilitre) of every cast in it, in order."""
    mates: dict[int, list[tuple[int, int]]] = defaultdict(list)
    rows = Cast.objects.filter(firing__in=firing_ids).order_by("number")
    for firing, cast, diameter, height in rows.values_list(
        "firing_id", "pk", "flask__diameter_um", "flask__height_um"
    ):
        volume = compute_flask_volume(diameter, height) if diameter and height else 0
        mates[firing or 0].append((cast, volume))
    return mates


def _firing_use(cast: Cast, policy: Policy, mates: dict[int, list[tuple[int, int]]]) -> FiringUse | None:
    firing = cast.firing
    if firing is None:
        return None
    row = mates[firing.pk]
    return FiringUse(
        minutes=firing.minutes,
        meter_wh=(firing.meter_before_wh, firing.meter_after_wh),
        rated_w=firing.rated_w or firing.kiln.rated_w,
        share_on_pct100=firing.share_on_pct100 or firing.kiln.share_on_pct100,
        energy_micro_per_kwh=policy.energy_micro_per_kwh,
        kiln=_tool_use(firing.kiln, getattr(cast, "kiln_minutes_before", 0), firing.minutes),
        flask_volumes_ul=tuple(volume for _, volume in row),
        which=next(place for place, (pk, _) in enumerate(row) if pk == cast.pk),
    )


def _tool_use(tool: Equipment, used_here: int, used_now: int) -> ToolUse:
    """A kiln's life is in hours and its use in minutes, so both are put in minutes."""
    per_use = 60 if tool.kind == Equipment.Kind.KILN else 1
    return ToolUse(
        label=f"{tool.get_kind_display().capitalize()}, {tool.name}",
        unit="minutes" if per_use == 60 else tool.life_unit,
        price_micro=tool.price_micro,
        end_value_micro=tool.end_value_micro,
        life_uses=tool.life_uses * per_use if tool.life_uses else None,
        used_before=tool.uses_before * per_use + used_here,
        used_now=used_now,
    )


def _tool_uses(cast: Cast) -> list[ToolUse]:
    tools = [(getattr(cast, name), getattr(cast, f"{name}_before")) for name in TOOLS]
    return [_tool_use(tool, before, 1) for tool, before in tools if tool is not None]


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
