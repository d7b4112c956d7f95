"""A small invented studio for tests, made through the same posting code as a person's clicks.

Amounts are typed as a person would say them: grams and money as text or whole numbers.
"""

from datetime import date
from decimal import Decimal
from typing import Any, TypeVar

from django.db.models import Model

from inventory.models import (
    Alloy,
    Cast,
    Customer,
    Equipment,
    Firing,
    Lot,
    Material,
    Refiner,
    Studio,
    Supplier,
    Tin,
)
from inventory.posting.buying import Charges, DeliveryLine, post_delivery
from inventory.posting.casting import CastFacts, CastRecord, Portion, TreeRecord, post_cast
from inventory.posting.closing import PieceGroup, Weights
from inventory.posting.setup import reclaim_material
from inventory.queries.outlook import MaterialOutlook, material_outlook
from inventory.queries.plain import plain_rows

M = TypeVar("M", bound=Model)

DAY = date(2026, 3, 2)


def g(grams: str | int) -> int:
    """Grams as milligrams, exactly."""
    return int(Decimal(str(grams)) * 1000)


def money(amount: str | int) -> int:
    """Currency units as millionths, exactly."""
    return int(Decimal(str(amount)) * 1_000_000)


def make_studio(**changes: object) -> Studio:
    return Studio.objects.create(pk=1, **{"name": "Heron Lane studio", "currency": "GBP", **changes})


def named(model: type[M], name: str, **facts: object) -> M:
    """The record of this name, written down when it is first asked for."""
    for row in plain_rows(model, "WHERE name = %(name)s", {"name": name}):
        return row
    return model._default_manager.create(name=name, **facts)


def sterling() -> Alloy:
    return named(Alloy, "Sterling", metal="silver", fineness=925, density_mg_cm3=10360)


def fine_silver() -> Alloy:
    return named(Alloy, "Fine silver", metal="silver", fineness=1000, density_mg_cm3=10500)


def bronze() -> Alloy:
    return named(Alloy, "Bronze", metal="base", fineness=0, density_mg_cm3=8770)


def grain(alloy: Alloy | None = None) -> Material:
    alloy = alloy or sterling()
    return named(Material, f"{alloy} grain", kind="metal", alloy=alloy, form="grain")


def powder() -> Material:
    return named(Material, "Investment powder", kind="powder", water_per_100_tenths=400, shelf_life_days=365)


def wax() -> Material:
    return named(Material, "Green wax", kind="pattern", density_mg_cm3=960)


def supplier() -> Supplier:
    return named(Supplier, "Marsh Gate Metals", lead_time_days=8)


def customer() -> Customer:
    return named(Customer, "Ilse Quill")


def refiner() -> Refiner:
    return named(Refiner, "Weir House Refining")


def buy(
    material: Material,
    quantity: int,
    price: str | int,
    day: date = DAY,
    carriage: str | int = 0,
    **line: object,
) -> Lot:
    """Buy one lot: quantity in small units, price and carriage in currency units."""
    delivery = post_delivery(
        supplier(),
        day,
        [DeliveryLine(material, quantity, money(price), **line)],  # type: ignore[arg-type]
        Charges(carriage_micro=money(carriage)),
    )
    return plain_rows(Lot, "WHERE delivery_id = %(delivery)s", {"delivery": delivery.pk})[0]


def tin(
    kind: str = "clean",
    owner: Customer | None = None,
    name: str = "Silver tin",
    alloy: Alloy | None = None,
) -> Tin:
    """A tin for reclaim, of sterling unless another alloy is given."""
    found = {"material": reclaim_material(alloy or sterling()), "kind": kind, "owner": owner}
    return Tin.objects.get_or_create(name=name, defaults=found)[0]


def lot_of(cast: Cast, origin: str) -> Lot:
    """The lot of one kind that a cast left as it was weighed out."""
    return Lot.objects.get(from_cast=cast, origin=origin, void=False, entry__kind="close")


def kiln() -> Equipment:
    worth = {"price_micro": money(900), "end_value_micro": money(100), "life_uses": 4000}
    return named(Equipment, "Small kiln", kind="kiln", rated_w=2400, **worth)


def fire(day: date = DAY, minutes: int = 720, wh: int = 12_400) -> Firing:
    return Firing.objects.create(
        kiln=kiln(), day=day, minutes=minutes, meter_before_wh=100_000, meter_after_wh=100_000 + wh
    )


def set_prices() -> dict[str, Any]:
    """One of each record of prices, by the folder that its page stands in."""
    from costing import models

    rule = models.NamedRule.objects.get_or_create(name="Margin", method="margin", value_hundredths=5_050)[0]
    channel = {"card_pct100": 175, "card_micro": money("0.20"), "rule": rule}
    silver = {"metal": "silver", "day": DAY, "price_micro": money("28.40")}
    terms = {"gram_micro_per_kg": money("1200.50"), "flask_micro": money(18)}
    return {
        "price-rules": rule,
        "channels": models.Channel.objects.get_or_create(name="Market", **channel)[0],
        "pure-metal": models.FinePrice.objects.get_or_create(**silver)[0],
        "premiums": models.AlloyPremium.objects.get_or_create(alloy=sterling(), share_pct100=350)[0],
        "casting-for-others": models.CastingTerms.objects.get_or_create(name="Trade", **terms)[0],
    }


def piece(name: str, grams: str | int, count: int = 1) -> PieceGroup:
    return PieceGroup(name, g(grams), count)


def cast_metal(
    charge: list[tuple[Lot, str | int]],
    pieces: list[PieceGroup],
    back: str | int = 0,
    day: date = DAY,
    alloy: Alloy | None = None,
    **changes: object,
) -> Cast:
    """Post a whole cast of (lot, grams) portions. `changes` are fields of its parts, and `by`."""
    by: Any = changes.pop("by", None)
    weights = {
        k: changes.pop(k)
        for k in ("failed_mg", "spill_mg", "filings_mg", "failed", "as_it_is")
        if k in changes
    }
    facts = {k: changes.pop(k) for k in ("owner", "crucible", "flask", "machine", "title") if k in changes}
    title = facts.pop("title", "fern studs")
    record = CastRecord(
        facts=CastFacts(title, day, alloy or sterling(), **facts),  # type: ignore[arg-type]
        charge=[Portion(lot, g(grams)) for lot, grams in charge],
        weights=Weights(pieces, back_mg=g(back), **weights),  # type: ignore[arg-type]
        **changes,  # type: ignore[arg-type]
    )
    return post_cast(record, by)


__all__ = [
    "DAY",
    "PieceGroup",
    "Portion",
    "TreeRecord",
    "bronze",
    "buy",
    "cast_metal",
    "customer",
    "fine_silver",
    "fire",
    "g",
    "grain",
    "kiln",
    "lot_of",
    "make_studio",
    "money",
    "named",
    "piece",
    "powder",
    "refiner",
    "set_prices",
    "sterling",
    "supplier",
    "tin",
    "wax",
]


def powder_outlook(studio: Studio, today: date) -> list[MaterialOutlook]:
    """When each powder is to be ordered."""
    return material_outlook(studio, today, (Material.Kind.POWDER,))
