"""What was here at the end of a day: every lot, open cast and piece by itself, the studio's own and customers'."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import F, Sum

from costing.queries.costed import cost_casts
from inventory.core.ledger import Amount
from inventory.models import Alloy, Cast, Customer, Holder, Lot, Material, Movement, Piece
from inventory.queries.ledger import STANDING, alloy_of, name_holder, owner_of


@dataclass(frozen=True)
class Thing:
    """One holder with what it held; `alloy` of metal, `owner` None for the studio's own."""

    holder: Holder
    alloy: Alloy | None
    owner: Customer | None
    amount: Amount

    @property
    def lot(self) -> Lot | None:
        return self.holder.lot if self.holder.kind == Holder.Kind.LOT else None

    @property
    def piece(self) -> Piece | None:
        return self.holder.piece if self.holder.kind == Holder.Kind.PIECE else None

    @property
    def material(self) -> Material | None:
        return self.lot.material if self.lot else None

    @property
    def kind(self) -> str:
        return str(self.holder.kind)

    @property
    def unit(self) -> str:
        return str(self.material.unit if self.material else Material.Unit.MASS)

    @property
    def name(self) -> str:
        return name_holder(self.holder)


_NAMED = ("lot__material", "lot__from_cast", "piece__cast", "cast", "batch")


def things_on(day: date) -> list[Thing]:
    """All that held something at the end of a day. Six queries."""
    return _name_things(_amounts_on(day))


def open_casts_on(day: date) -> dict[int, list[int]]:
    """The studio's own casts that were in the crucible at the end of a day: their numbers by alloy. Four queries."""
    casts = Cast.objects.filter(crucible_holder__in=list(_amounts_on(day)), owner=None).order_by("number")
    found: dict[int, list[int]] = defaultdict(list)
    for alloy, number in casts.values_list("alloy", "number"):
        found[alloy].append(number)
    return found


def _amounts_on(day: date) -> dict[int, Amount]:
    """What every holder held, back from what is here; those of nothing are left out."""
    # Back from what is here, which a studio of any age has little of, and not up from its first day.
    amounts: dict[int, Amount] = defaultdict(Amount)
    here = Holder.objects.filter(quantity__gt=0).exclude(kind=Holder.Kind.OUTSIDE)
    for pk, *numbers in here.values_list("pk", "quantity", "fine_ug", "cost_micro"):
        amounts[pk] = Amount(*numbers)
    # The same day stands on the entry, where an index finds the few that are later.
    later = Movement.objects.filter(STANDING, entry__day__gt=day).order_by()
    sums = [Sum(measure) for measure in ("quantity", "fine_ug", "cost_micro")]
    inside = {
        # By an expression: grouped by the column itself, SQLite would walk its index through all movements.
        side: later.exclude(**{f"{side}__kind": Holder.Kind.OUTSIDE}).annotate(end=F(f"{side}_id") + 0)
        for side in ("source", "target")
    }
    for pk, *numbers in inside["target"].values_list("end").annotate(*sums):
        amounts[pk] -= Amount(*map(int, numbers))
    for pk, *numbers in inside["source"].values_list("end").annotate(*sums):
        amounts[pk] += Amount(*map(int, numbers))
    return {pk: amount for pk, amount in amounts.items() if not amount.is_nothing}


def _name_things(amounts: dict[int, Amount]) -> list[Thing]:
    holders = list(
        Holder.objects.filter(pk__in=list(amounts))
        .select_related(*_NAMED)
        .annotate(of_alloy=alloy_of(), of_owner=owner_of())
    )
    alloys = Alloy.objects.in_bulk({holder.of_alloy for holder in holders} - {None})
    owners = Customer.objects.in_bulk({holder.of_owner for holder in holders} - {None})
    return [
        Thing(
            holder,
            alloys.get(holder.of_alloy) if holder.of_alloy else None,
            owners.get(holder.of_owner) if holder.of_owner else None,
            amounts[holder.pk],
        )
        for holder in holders
    ]


@dataclass(frozen=True)
class Held:
    """What the studio held of one thing: a material in lots, or an alloy in open casts, in pieces or at a refiner's."""

    kind: str
    material: Material | None
    alloy: Alloy | None
    amount: Amount


def group_held(things: Iterable[Thing]) -> list[Held]:
    """The studio's own by what is held; customers' metal is theirs and left out."""
    found: dict[tuple[str, int | None, int | None], Held] = {}
    for thing in things:
        if thing.owner is not None:
            continue
        material, alloy = thing.material, None if thing.material else thing.alloy
        key = (thing.kind, material.pk if material else None, alloy.pk if alloy else None)
        before = found.get(key, Held(thing.kind, material, alloy, Amount()))
        found[key] = Held(thing.kind, material, alloy, before.amount + thing.amount)
    return list(found.values())


def stock_on(day: date) -> list[Held]:
    """The studio's own stock at the end of a day, by what is held."""
    return group_held(things_on(day))


@dataclass(frozen=True)
class PieceValue:
    """A piece that was here: its metal as the book had it on the day, and its full cost, both in millionths.

    The full cost is that of today's knowledge; a piece that was finished since had more metal in it on the day.
    `today_micro` is the full cost as it stands, from which a price is asked.
    """

    piece: Piece
    alloy: Alloy | None
    mass_mg: int
    metal_micro: int
    full_micro: int
    today_micro: int


def value_pieces(things: Iterable[Thing]) -> list[PieceValue]:
    """The studio's own pieces among some things, newest cast first. A dozen queries, however many there are."""
    pieces = [
        (thing.piece, thing.alloy, thing.amount) for thing in things if thing.piece and thing.owner is None
    ]
    costed = cost_casts({piece.cast_id for piece, _, _ in pieces})
    values = []
    for piece, alloy, amount in pieces:
        one = costed.get(piece.cast_id)
        full_micro, own_micro = amount.cost_micro, amount.cost_micro
        if one is not None:
            place = one.place_of(piece.pk)
            full_micro, own_micro = (
                one.cost.piece_totals_micro[place],
                one.inputs.pieces[place].own_metal_micro,
            )
        then_micro = full_micro - own_micro + amount.cost_micro
        values.append(PieceValue(piece, alloy, amount.quantity, amount.cost_micro, then_micro, full_micro))
    return sorted(values, key=lambda value: (-value.piece.cast.number, value.piece.number))
