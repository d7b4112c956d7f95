"""What the forms of casts and plans offer: lots that hold something, materials, firings, equipment, usual answers."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import QuerySet, Subquery

from inventory.core.picking import LotOnHand, suggest_first_to_expire, suggest_oldest_first
from inventory.core.pieces import name_without_number
from inventory.models import (
    Alloy,
    Cast,
    Customer,
    DayPractice,
    Design,
    Entry,
    Equipment,
    Firing,
    Lot,
    Material,
    Movement,
    Piece,
    PlanPart,
    Schedule,
    TreePart,
)

from .ledger import standing_entries
from .reclaim_kinds import meltable_origins
from .shelf import MOST_LOTS, lots_here
from .studio import current_practice, current_studio, schedules

LAST_FIRINGS = 8
LATEST_PIECES = 400
MOST_NAMES = 80
_LATE_DAYS = 3
_ORIGIN_PLACE = {
    Lot.Origin.BOUGHT: 0,
    Lot.Origin.OPENING: 0,
    Lot.Origin.HANDED_IN: 0,
    Lot.Origin.REFINED: 0,
    Lot.Origin.CLEAN: 1,
    Lot.Origin.FAILED: 2,
    Lot.Origin.SPILL: 3,
    Lot.Origin.FILINGS: 4,
    Lot.Origin.SWEEPS: 5,
}


def lots_in_stock(kinds: Sequence[str]) -> QuerySet[Lot]:
    """Lots of these kinds of material that hold something, oldest first."""
    return lots_here(material__kind__in=kinds).select_related(
        "material__alloy", "holder", "owner", "from_cast"
    )


def metal_lots() -> list[Lot]:
    """Metal that may be weighed into a crucible as it is: by alloy, fresh before reclaimed, oldest first."""
    may_go_in = meltable_origins(current_studio())
    lots = list(lots_in_stock([Material.Kind.METAL]).filter(origin__in=may_go_in)[:MOST_LOTS])
    return sorted(lots, key=lambda lot: (str(lot.material.alloy), _ORIGIN_PLACE[Lot.Origin(lot.origin)]))


def powder_lots() -> list[Lot]:
    """Powder, what goes out of date first at the top."""
    lots = list(lots_in_stock([Material.Kind.POWDER])[:MOST_LOTS])
    return sorted(lots, key=lambda lot: (lot.use_by or date.max, lot.received_on, lot.pk))


def pattern_lots() -> list[Lot]:
    return list(lots_in_stock([Material.Kind.PATTERN])[:MOST_LOTS])


def pattern_materials() -> list[Material]:
    return list(Material.objects.filter(kind=Material.Kind.PATTERN, archived=False))


def lots_for_use(of_piece: bool = False) -> list[Lot]:
    """What may be taken from stock for a cast or a piece; findings and boxes first where it is for a piece."""
    kinds = [Material.Kind.CONSUMABLE, Material.Kind.FINDING, Material.Kind.PACKAGING]
    lots = list(lots_in_stock(kinds)[:MOST_LOTS])
    first = {Material.Kind.FINDING, Material.Kind.PACKAGING} if of_piece else {Material.Kind.CONSUMABLE}
    return sorted(lots, key=lambda lot: (lot.material.kind not in first, lot.material.name))


def suggest_powder_lot(lots: Sequence[Lot], day: date) -> Lot | None:
    """The lot of powder to take first: it goes out of date first and is still usable."""
    on_hand = [
        LotOnHand(
            lot.pk, "", lot.received_on, lot.holder.quantity, lot.use_by, lot.damp_on, lot.sets_wrong_on
        )
        for lot in lots
    ]
    takes = suggest_first_to_expire(on_hand, 1, day).takes
    return next((lot for lot in lots if takes and lot.pk == takes[0][0]), None)


def split_tin(lots: Sequence[Lot], wanted_mg: int) -> tuple[list[tuple[Lot, int]], str]:
    """Milligrams to take from each lot of a tin, oldest first, or the sentence that says why it cannot be."""
    by_key = {lot.pk: lot for lot in lots}
    on_hand = [LotOnHand(lot.pk, f"Lot {lot.pk}", lot.received_on, lot.holder.quantity) for lot in lots]
    suggestion = suggest_oldest_first(on_hand, wanted_mg)
    return [(by_key[key], mass_mg) for key, mass_mg in suggestion.takes], suggestion.problem


def last_firings() -> list[Firing]:
    return list(Firing.objects.select_related("kiln").order_by("-day", "-id")[:LAST_FIRINGS])


def usual_firing(firings: Sequence[Firing], day: date) -> Firing | None:
    """The firing that a flask poured on this day most likely stood in."""
    near = [firing for firing in firings if timedelta(0) <= day - firing.day <= timedelta(days=_LATE_DAYS)]
    return near[0] if near else None


@dataclass(frozen=True)
class StudioChoices:
    """What does not change from cast to cast: read once for a form."""

    alloys: Sequence[Alloy]
    customers: Sequence[Customer]
    equipment: dict[str, list[Equipment]] = field(default_factory=dict)
    last_cast: Cast | None = None

    def of_kind(self, kind: str) -> list[Equipment]:
        return self.equipment.get(kind, [])

    @property
    def flasks(self) -> list[Equipment]:
        """Flasks whose inside is known: powder and room are reckoned from it."""
        return [one for one in self.of_kind("flask") if one.diameter_um and one.height_um]


def read_studio_choices(with_metal: bool = True) -> StudioChoices:
    """Alloys, customers, equipment in use, and the last cast of an alloy, whose answers are the usual ones.

    Where neither alloy nor owner is asked for, those are not read.
    """
    equipment: dict[str, list[Equipment]] = {}
    for one in Equipment.objects.filter(archived=False):
        equipment.setdefault(one.kind, []).append(one)
    return StudioChoices(
        alloys=list(Alloy.objects.filter(archived=False)) if with_metal else [],
        customers=list(Customer.objects.filter(archived=False)) if with_metal else [],
        equipment=equipment,
        # What missed its alloy and was taken for what it is is no answer for the next one.
        last_cast=Cast.objects.filter(alloy__is_mixed=False).order_by("-number").first(),
    )


@dataclass(frozen=True)
class PlanChoices:
    """Everything that the page of a plan offers, and the usual answers, read once."""

    studio: StudioChoices
    powders: Sequence[Material]
    patterns: Sequence[Material]
    schedules: Sequence[Schedule]
    practice: DayPractice
    names: Sequence[str]
    designs: Sequence[Design]
    usual_powder: int | None
    usual_pattern: int | None
    usual_kiln: int | None

    @property
    def flasks(self) -> list[Equipment]:
        return self.studio.flasks

    @property
    def kilns(self) -> list[Equipment]:
        return self.studio.of_kind("kiln")


def read_plan_choices(for_tree: bool = True) -> PlanChoices:
    """A fixed handful of queries; six fewer without what only one tree by itself is asked for."""
    materials = list(
        Material.objects.filter(
            kind__in=[Material.Kind.POWDER, Material.Kind.PATTERN], unit=Material.Unit.MASS, archived=False
        )
    )
    last_investing = standing_entries().filter(kind=Entry.Kind.POWDER).order_by("-pk").values("pk")[:1]
    powder = Movement.objects.filter(entry=Subquery(last_investing)).order_by("line")
    tree = TreePart.objects.filter(void=False).order_by("-id")
    firings = Firing.objects.order_by("-day", "-id")
    named = Design.objects.filter(archived=False).select_related("alloy", "pattern_material")
    designs = list(named) if for_tree else []
    own = [design.name for design in designs]
    return PlanChoices(
        studio=read_studio_choices(for_tree),
        powders=[one for one in materials if one.kind == Material.Kind.POWDER],
        patterns=[one for one in materials if one.kind == Material.Kind.PATTERN and one.density_mg_cm3],
        schedules=[one for one in schedules() if one.steps.all()],
        practice=current_practice(),
        names=list(dict.fromkeys([*own, *(_earlier_names() if for_tree else ())])),
        designs=designs,
        usual_powder=powder.values_list("source__lot__material", flat=True).first(),
        usual_pattern=tree.values_list("material", flat=True).first() if for_tree else None,
        usual_kiln=firings.values_list("kiln", flat=True).first(),
    )


def _earlier_names() -> list[str]:
    """What was cast or planned before, the latest first; castings of one pattern are numbered and count once."""
    pieces = Piece.objects.filter(void=False).order_by("-id").values_list("name", flat=True)[:LATEST_PIECES]
    parts = (
        PlanPart.objects.filter(is_piece=True).order_by("-id").values_list("label", flat=True)[:MOST_NAMES]
    )
    names = [name_without_number(name) for name in (*parts, *pieces)]
    return list(dict.fromkeys(names))[:MOST_NAMES]
