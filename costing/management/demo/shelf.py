"""What stands on the demo studio's shelf, and what to take from it."""

from django.db.models import QuerySet

from inventory.models import Lot, Material
from inventory.posting.casting import Portion
from inventory.queries.shelf import ON_HAND


def held(lots: QuerySet[Lot]) -> QuerySet[Lot]:
    rows = lots.filter(ON_HAND).select_related("holder", "material__alloy", "owner")
    return rows.order_by("received_on", "pk")


def take_oldest(lots: QuerySet[Lot], quantity: int) -> list[Portion]:
    """So much of the oldest lots, in turn; less when they hold less."""
    portions = []
    for lot in held(lots):
        part = min(quantity, lot.holder.quantity)
        if part:
            portions.append(Portion(lot, part))
            quantity -= part
    return portions


def grams_held(material: Material) -> int:
    return sum(lot.holder.quantity for lot in held(Lot.objects.filter(material=material, owner=None)))


def first_lot(material: Material) -> Lot:
    lot = held(Lot.objects.filter(material=material)).first()
    if lot is None:
        raise ValueError(f"the demo ran out of {material}")
    return lot
