"""Reads of what suppliers offer and of the terms on which they send it."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from inventory.core.choosing import Line, Pack, Terms
from inventory.models import Material, Offer, Supplier
from studio.kit.printing import print_pack

from .setup import every

_PICKED = re.compile(r"([0-9]{1,12})x([0-9]{1,4})")
_MOST_PICKED = 40


def offers() -> "QuerySet[Offer]":
    return every(Offer).select_related("supplier", "material__alloy").prefetch_related("breaks")


def open_offers(materials: Iterable[int] | None = None) -> list[Offer]:
    """Offers that are not put away, of suppliers and materials that are not either. Two queries."""
    rows = offers().filter(archived=False, supplier__archived=False, material__archived=False)
    return list(rows if materials is None else rows.filter(material__in=list(materials)))


def offers_by_material() -> dict[int, list[Offer]]:
    """The same of every material, by its key."""
    found: dict[int, list[Offer]] = {}
    for offer in open_offers():
        found.setdefault(offer.material_id, []).append(offer)
    return found


def pack_of(offer: Offer) -> Pack:
    """An offer as the choice takes it."""
    breaks = ((one.packs, one.price_micro) for one in offer.breaks.all())
    is_mass = offer.material.unit == Material.Unit.MASS
    return Pack(
        offer.pk,
        offer.supplier_id,
        offer.material_id,
        offer.quantity,
        ((1, offer.price_micro), *breaks),
        offer.keeps,
        offer.weighs_mg or (offer.quantity if is_mass else 0),
    )


def terms_of(suppliers: Iterable[int]) -> dict[int, Terms]:
    """What suppliers take beside their prices, by supplier. Two queries."""
    rows = Supplier.objects.filter(pk__in=set(suppliers)).prefetch_related("bands")
    return {
        one.pk: Terms(
            one.pk,
            tuple((band.reached, band.carriage_micro) for band in one.bands.all()),
            one.carriage_by == Supplier.CarriageBy.MASS,
            one.least_micro,
            one.duty_pct100,
        )
        for one in rows
    }


def say_packs(packs: Sequence[tuple[Offer, int]]) -> str:
    """ "1 × 25 kg, 2 × 5 kg" """
    return ", ".join(f"{count} × {print_pack(offer.quantity, offer.material.unit)}" for offer, count in packs)


@dataclass(frozen=True)
class Picked:
    """What an address asks to order: the supplier of it, and lines as the form of an order takes them.

    `carriage_micro` is what a parcel of it costs to bring by the supplier's terms, None where none are written down.
    """

    supplier: Supplier | None = None
    lines: tuple[dict[str, Any], ...] = ()
    carriage_micro: int | None = None


def read_picked(typed: Sequence[str]) -> Picked:
    """Packs of offers, each as "12x2"; what is not there, or of another supplier than the first, is left out."""
    found = [match for one in typed[:_MOST_PICKED] if (match := _PICKED.fullmatch(one))]
    counts = {int(match[1]): int(match[2]) for match in found if int(match[2])}
    known = {one.pk: one for one in offers().filter(pk__in=list(counts))} if counts else {}
    rows = [known[pk] for pk in counts if pk in known]
    if not rows:
        return Picked()
    supplier = rows[0].supplier
    by_material: dict[Material, list[tuple[Offer, int]]] = {}
    parcel: list[Line] = []
    for offer in rows:
        if offer.supplier_id == supplier.pk:
            by_material.setdefault(offer.material, []).append((offer, counts[offer.pk]))
            parcel.append(Line(pack_of(offer), counts[offer.pk]))
    return Picked(
        supplier,
        tuple(
            {
                "material": material,
                "quantity": sum(offer.quantity * count for offer, count in packs),
                "price": sum(pack_of(offer).price_micro(count) * count for offer, count in packs),
                "packs": say_packs(packs)[:120],
            }
            for material, packs in by_material.items()
        ),
        _carriage_of(terms_of([supplier.pk])[supplier.pk], parcel),
    )


def _carriage_of(terms: Terms, parcel: Sequence[Line]) -> int | None:
    if not terms.carriage:
        return None
    return terms.carriage_micro(
        sum(line.price_micro for line in parcel), sum(line.weight_mg for line in parcel)
    )


def say_lead(took: Sequence[int]) -> str:
    """What past orders say of how long a parcel takes; "" while there are none."""
    if not took:
        return ""
    if len(took) == 1:
        return f"The one order so far took {took[0]} day{'' if took[0] == 1 else 's'}."
    return f"The last {len(took)} orders took {min(took)} to {max(took)} days."
