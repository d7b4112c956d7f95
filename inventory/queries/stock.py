"""Reads of stock: lots, what there is of each kind, and the history of one lot."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import (
    BigIntegerField,
    Case,
    CharField,
    Count,
    Exists,
    ExpressionWrapper,
    F,
    Min,
    OuterRef,
    Q,
    QuerySet,
    Sum,
    Value,
    When,
    Window,
)

from inventory.models import Holder, Lot, Material, Movement
from studio.kit.rounding import Cell, Path, round_to_add_up

from .ledger import STANDING, holder_history, owner_of
from .plain import row_of
from .shelf import lots_here, usable_on


def standing_lots() -> QuerySet[Lot]:
    """Every lot that was not taken back, used up or not, with what its page shows beside it."""
    return Lot.objects.filter(void=False).select_related(
        "holder", "material__alloy", "owner", "supplier", "from_cast"
    )


def metal_sort(path: str = "") -> Case:
    """ "fresh", "clean" (buttons and sprues, and old metal bought in), "failed", "spill" or "filings".

    `path` leads to the lot, "source__lot__" say; what is no lot is "clean" too.
    """
    dust = (Lot.Origin.FILINGS, Lot.Origin.SWEEPS)
    return Case(
        When(**{f"{path}origin": Lot.Origin.FAILED}, then=Value("failed")),
        When(**{f"{path}origin": Lot.Origin.SPILL}, then=Value("spill")),
        When(**{f"{path}origin__in": dust}, then=Value("filings")),
        When(Q(**{f"{path}origin__in": Lot.FRESH, f"{path}melts_milli": 0}), then=Value("fresh")),
        default=Value("clean"),
        output_field=CharField(),
    )


@dataclass
class MetalOnHand:
    """The metal of one alloy that belongs to one owner, in milligrams by sort."""

    alloy_id: int
    alloy: str
    owner_id: int | None
    owner: str
    fresh_mg: int = 0
    clean_mg: int = 0
    failed_mg: int = 0
    spill_mg: int = 0
    filings_mg: int = 0
    fine_ug: int = 0
    cost_micro: int = 0

    @property
    def mass_mg(self) -> int:
        return self.fresh_mg + self.clean_mg + self.failed_mg + self.spill_mg + self.filings_mg


def metal_on_hand() -> tuple[list[MetalOnHand], list[MetalOnHand]]:
    """The studio's own metal by alloy, and apart from it its customers' by owner and alloy. One query."""
    sums = (
        lots_here(material__kind=Material.Kind.METAL)
        .annotate(sort=metal_sort())
        .order_by()
        .values("sort", "material__alloy_id", "material__alloy__name", "owner_id", "owner__name")
        .annotate(mass=Sum("holder__quantity"), fine=Sum("holder__fine_ug"), cost=Sum("holder__cost_micro"))
    )
    found: dict[tuple[int | None, int], MetalOnHand] = {}
    for row in sums:
        owner, alloy = row["owner_id"], row["material__alloy_id"]
        empty = MetalOnHand(alloy, row["material__alloy__name"], owner, row["owner__name"] or "")
        metal = found.setdefault((owner, alloy), empty)
        setattr(metal, f"{row['sort']}_mg", row["mass"])
        metal.fine_ug += row["fine"]
        metal.cost_micro += row["cost"]
    in_order = sorted(found.values(), key=lambda metal: (metal.owner.casefold(), metal.alloy.casefold()))
    own = [metal for metal in in_order if metal.owner_id is None]
    return own, [metal for metal in in_order if metal.owner_id is not None]


@dataclass(frozen=True)
class MetalElsewhere:
    """The studio's own metal that is in no lot, by what holds it: so many of them, milligrams, millionths."""

    kind: str
    count: int
    mass_mg: int
    cost_micro: int

    @property
    def words(self) -> str:
        return _ELSEWHERE.get(self.kind) or f"In a {Holder.Kind(self.kind).label}"


_ELSEWHERE: dict[str, str] = {
    Holder.Kind.CRUCIBLE: "In open casts",
    Holder.Kind.PIECE: "In pieces, at the cost of their metal",
    Holder.Kind.BATCH: "At the refiner",
}


def metal_elsewhere() -> list[MetalElsewhere]:
    """What stands in the crucibles of open casts and in pieces. One query."""
    held = Holder.objects.filter(quantity__gt=0).exclude(kind__in=(Holder.Kind.OUTSIDE, Holder.Kind.LOT))
    rows = (
        held.annotate(of_owner=owner_of())
        .filter(of_owner=None)
        .order_by("kind")
        .values_list("kind")
        .annotate(Count("pk"), Sum("quantity"), Sum("cost_micro"))
    )
    return [MetalElsewhere(*row) for row in rows]


def round_costs(sums: Mapping[Path, Sequence[int]], unit: int) -> dict[Path, list[int]]:
    """Costs in millionths, each to a printed unit so that every sum of the page is the sum of what it shows.

    `sums` has the costs of the rows by the sums that they are part of; the whole is the nearest to the exact one.
    """
    cells = [Cell(cost_micro, row=path) for path, costs in sums.items() for cost_micro in costs]
    rounded = iter(round_to_add_up(cells, unit))
    return {path: [next(rounded) for _ in costs] for path, costs in sums.items()}


def other_on_hand(today: date) -> list[dict[str, Any]]:
    """What there is of every material that is not metal: quantity, the unusable of it, lots, use-by. One query."""
    usable = usable_on(today)
    rows: Iterable[Any] = (
        lots_here()
        .exclude(material__kind=Material.Kind.METAL)
        .order_by("material__name")
        .values("material_id", name=F("material__name"), kind=F("material__kind"), unit=F("material__unit"))
        .annotate(
            quantity=Sum("holder__quantity"),
            unusable=Sum("holder__quantity", filter=~usable, default=0),
            cost=Sum("holder__cost_micro"),
            lots=Count("pk"),
            use_by=Min("use_by", filter=usable),
        )
    )
    kinds = Material.Kind.values
    return sorted(rows, key=lambda row: (kinds.index(row["kind"]), row["name"].casefold()))


def materials_with_stock() -> QuerySet[Material]:
    """Every material, with the quantity on hand as `on_hand` and the number of its lots as `lot_count`."""
    standing = Q(lots__void=False)
    return (
        Material.objects.select_related("alloy", "supplier")
        .annotate(
            on_hand=Sum("lots__holder__quantity", filter=standing, default=0),
            lot_count=Count("lots", filter=standing),
        )
        .order_by("kind", "name")
    )


def quantity_come_in(lot: Lot) -> int:
    """What came into a lot in all; entries taken back do not count. One query."""
    came_in: int = Movement.objects.filter(STANDING, target=lot.holder_id).aggregate(
        quantity=Sum("quantity", default=0)
    )["quantity"]
    return came_in


def _signed(measure: str, holder: Holder) -> Case:
    """What a movement changed for one of its two holders."""
    out = ExpressionWrapper(-F(measure), output_field=BigIntegerField())
    return Case(When(source=holder, then=out), default=F(measure), output_field=BigIntegerField())


#: What names a holder (`name_holder`), and the few columns of it that do.
_NAMES = ("lot__material", "lot__from_cast", "cast", "piece", "batch")
_WORDS = (
    *("kind", "place", "cast__number", "piece__name", "batch__holder"),
    *("lot__origin", "lot__kept_in", "lot__tin", "lot__material__name", "lot__from_cast__number"),
)


def lot_history(holder: Holder, unit: str) -> QuerySet[Movement]:
    """Movements of a lot, newest first, each with its signed `change`, what was `left`, and the lot's `unit`.

    `is_turned_back` marks both halves of what was reversed. What went out and came back in one entry and left grams
    and cost as they were, as an assay does, stands once.
    """
    change, change_of_cost = _signed("quantity", holder), _signed("cost_micro", holder)
    ends = [f"{end}__{name}" for end in ("source", "target") for name in _NAMES]
    words = [f"{end}__{name}" for end in ("source", "target") for name in _WORDS]
    same_entry = Movement.objects.filter(entry=OuterRef("entry"), line__gt=OuterRef("line"))
    again = Exists(same_entry.filter(Q(source=holder) | Q(target=holder)))
    return (
        holder_history(holder)
        .exclude(again, quantity=0, cost_micro=0)
        .select_related("entry__cast", "entry__reverses", *ends)
        .only("what", "day", "entry__kind", "entry__cast__number", "entry__reverses__kind", *words)
        .annotate(
            change=change,
            change_of_cost=change_of_cost,
            lot_unit=Value(unit),
            is_turned_back=~STANDING,
            left=Window(Sum(change), order_by=[F("day").asc(), F("id").asc()]),
        )
    )


def latest_metal_lot() -> Lot | None:
    latest = Lot.objects.filter(void=False, material__kind=Material.Kind.METAL).order_by("-pk")
    return find_lot(pk) if (pk := latest.values_list("pk", flat=True).first()) else None


_ON_ITS_PAGE = (
    *("holder", "material__alloy", "owner", "supplier"),
    *("from_cast", "delivery__supplier", "entry", "tin"),
)


def find_lot(pk: int) -> Lot | None:
    """A lot with everything that its page shows."""
    return row_of(Lot, pk, _ON_ITS_PAGE)
