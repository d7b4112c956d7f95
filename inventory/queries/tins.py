"""Reads of tins: what lies in one, what may go into it, and from which lots it came."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, QuerySet, Sum

from inventory.core.ledger import Amount, total_of
from inventory.models import Entry, Lot, Movement, Tin
from studio.kit.models import in_order, only_one
from studio.kit.rounding import allocate_largest_remainder

from .ledger import STANDING
from .shelf import MOST_LOTS, lots_here


def lots_in_tin(tin: Tin) -> list[Lot]:
    """What a tin holds: one lot; two where a charge that was taken back left its metal in the one before."""
    rows = lots_here(tin=tin).select_related("holder", "material__alloy", "owner", "from_cast", "tin")
    return in_order(rows, "pk")


def tins() -> "QuerySet[Any]":
    """Every tin, with the milligrams that it `held` now."""
    standing = Q(lots__void=False)
    held = Sum("lots__holder__quantity", filter=standing, default=0)
    return Tin.objects.select_related("material__alloy", "owner").annotate(held=held)


def filled_tins() -> "QuerySet[Any]":
    """Tins that hold something, the fullest first, each with what it `held`."""
    return tins().filter(held__gt=0).order_by("-held", "pk")


def fitting_lots(tin: Tin) -> QuerySet[Lot]:
    """Lots that may go into a tin: of its metal, its kind and its owner, and not in it yet; oldest first."""
    rows = lots_here(material=tin.material_id, origin=tin.kind, owner=tin.owner_id).exclude(tin=tin)
    few = rows.order_by("received_on", "pk").values("pk")[:MOST_LOTS]
    return Lot.objects.filter(pk__in=few).select_related("holder", "material", "from_cast")


def tins_for(lot: Lot) -> QuerySet[Tin]:
    """Open tins that a lot may go into; none for one that lies in a tin already, or is not of a kind for tins."""
    if lot.tin_id is not None or lot.origin not in Lot.IN_TINS:
        return Tin.objects.none()
    return Tin.objects.filter(is_open=True, material=lot.material_id, kind=lot.origin, owner=lot.owner_id)


def tin_it_went_into(lot: Lot) -> Tin | None:
    """The tin that a lot was put into last; None where it never was."""
    lines = Movement.objects.filter(STANDING, source=lot.holder_id, entry__kind=Entry.Kind.TOGETHER)
    last = lines.select_related("target__lot__tin").order_by("-pk").first()
    return last.target.lot.tin if last is not None else None


@dataclass(frozen=True)
class TinNow:
    """A tin as it stands, with the lots in it: one, or none."""

    tin: Tin
    lots: list[Lot]

    @property
    def lot(self) -> Lot | None:
        """The one that is taken from."""
        return self.lots[-1] if self.lots else None

    @property
    def held(self) -> Amount:
        return total_of(
            Amount(lot.holder.quantity, lot.holder.fine_ug, lot.holder.cost_micro) for lot in self.lots
        )


def find_tin(pk: int) -> TinNow | None:
    """Two queries."""
    tin = only_one(tins().filter(pk=pk))
    return TinNow(tin, lots_in_tin(tin)) if tin is not None else None


@dataclass(frozen=True)
class Ingredient:
    """A lot that went into a tin, and what of it still is there by its share, in milligrams."""

    lot: Lot
    mass_mg: int


def share_contents(now: TinNow, shares_of: Mapping[int, Mapping[int, int]]) -> list[Ingredient]:
    """What the lots in a tin were put together from, most first; `shares_of` each lot in it: lot to its part."""
    masses: dict[int, int] = {}
    for lot in now.lots:
        shares = shares_of[lot.pk]
        parts = allocate_largest_remainder(lot.holder.quantity, list(shares.values()))
        for key, mass_mg in zip(shares, parts, strict=True):
            masses[key] = masses.get(key, 0) + mass_mg
    lots = Lot.objects.order_by().select_related("material", "from_cast").in_bulk(list(masses))
    found = [Ingredient(lots[key], mass_mg) for key, mass_mg in masses.items() if mass_mg]
    return sorted(found, key=lambda one: (-one.mass_mg, one.lot.pk))
