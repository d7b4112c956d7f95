"""The demo studio before its year begins: settings, alloys, materials, tools, rules, prices, and its shelf."""

from dataclasses import asdict, dataclass
from datetime import date, timedelta

from django.contrib.auth.models import User
from django.db.models import QuerySet

from costing.models import MetalPrice, Policy
from inventory.core.starters import STARTER_ALLOYS
from inventory.models import Alloy, AlloyPart, Customer, Equipment, Lot, Material, Studio, Supplier
from inventory.posting.casting import Portion
from inventory.queries.shelf import ON_HAND

YEAR = timedelta(days=364)


def money(pence: int) -> int:
    """Hundredths of the currency as millionths."""
    return pence * 10_000


@dataclass(frozen=True)
class Setting:
    """Everything the year needs to hand."""

    person: User
    sterling: Alloy
    bronze: Alloy
    grain: Material
    bronze_grain: Material
    powder: Material
    wax: Material
    wires: Material
    metals: Supplier
    moulds: Supplier
    owner: Customer
    kiln: Equipment
    flask: Equipment
    tall_flask: Equipment
    crucible: Equipment
    bronze_crucible: Equipment
    machine: Equipment
    pump: Equipment


def furnish(today: date, person: User) -> Setting:
    """Make the studio. Its rules change once in the year, so that old casts keep their old rates."""
    Studio.objects.create(pk=1, name="Alder Yard studio", currency="GBP")
    _make_rules(today)
    sterling, bronze = _alloy("Sterling silver", "Sterling 925"), _alloy("Bronze", "Bronze")
    _make_prices(today, sterling, bronze)
    metals = Supplier.objects.create(name="Millrace Bullion", lead_time_days=4, lead_time_spread_days=1)
    moulds = Supplier.objects.create(
        name="Quarry Road Casting Supplies", lead_time_days=11, lead_time_spread_days=3
    )
    return Setting(
        person=person,
        sterling=sterling,
        bronze=bronze,
        grain=_metal("Sterling grain", sterling, metals),
        bronze_grain=_metal("Bronze grain", bronze, metals),
        powder=Material.objects.create(
            name="Investment powder",
            kind="powder",
            water_per_100_tenths=400,
            slurry_mg_cm3=1_767,
            working_minutes=8,
            sets_least_minutes=9,
            sets_most_minutes=14,
            most_c=750,
            shelf_life_days=365,
            opened_life_days=184,
            supplier=moulds,
        ),
        wax=Material.objects.create(name="Casting wax", kind="pattern", density_mg_cm3=960, supplier=moulds),
        wires=Material.objects.create(
            name="Silver ear wires",
            kind="finding",
            unit="items",
            finding_alloy=sterling,
            item_mg=190,
            supplier=metals,
        ),
        metals=metals,
        moulds=moulds,
        owner=Customer.objects.create(name="Wren Hallow", contact="leave word at the bakery"),
        **_make_tools(today - YEAR),
    )


def _alloy(name: str, common: str) -> Alloy:
    """An alloy with the figures of a common one."""
    starter = next(one for one in STARTER_ALLOYS if one.name == common)
    alloy = Alloy.objects.create(
        name=name,
        metal=starter.metal,
        fineness=starter.fineness,
        density_mg_cm3=starter.density_mg_cm3,
        density_note=starter.density_note,
        heat_note=starter.heat_note,
        quench_minutes=starter.quench_minutes,
        **asdict(starter.heats),
    )
    for element, per_10000 in starter.parts.items():
        AlloyPart.objects.create(alloy=alloy, element=element, per_10000=per_10000)
    return alloy


def _metal(name: str, alloy: Alloy, supplier: Supplier) -> Material:
    return Material.objects.create(name=name, kind="metal", alloy=alloy, form="grain", supplier=supplier)


def _make_rules(today: date) -> None:
    first = Policy(
        from_day=today - YEAR - timedelta(days=7),
        normal_loss_pct100=100,
        energy_micro_per_kwh=money(27),
        hourly_rate_micro=money(2200),
        overhead_per_hour_micro=money(650),
        consumables_per_cast_micro=money(140),
        consumables_per_piece_micro=money(35),
        wholesale_hundredths=180,
        retail_hundredths=360,
        price_step_micro=money(100),
    )
    first.save()
    first.pk = None
    first.from_day = today - timedelta(days=150)
    first.hourly_rate_micro = money(2400)
    first.energy_micro_per_kwh = money(29)
    first.save()


def _make_prices(today: date, sterling: Alloy, bronze: Alloy) -> None:
    for month in range(13):
        day = today - YEAR + timedelta(days=30 * month)
        if day <= today:
            MetalPrice.objects.create(
                alloy=sterling, day=day, price_micro=money(silver_pence(today, day)), per_unit="g"
            )
    MetalPrice.objects.create(alloy=bronze, day=today - YEAR, price_micro=money(2150), per_unit="kg")


def silver_pence(today: date, day: date) -> int:
    """What a gram of sterling grain costs in the demo on a day, in pence: it rises, dips and rises again."""
    weeks = (day - (today - YEAR)).days // 7
    return 98 + weeks // 2 + (7 if 14 <= weeks < 24 else 0) - (6 if 30 <= weeks < 36 else 0)


def _make_tools(bought: date) -> dict[str, Equipment]:
    def tool(kind: str, name: str, price: int, life: int, end: int = 0, **fields: object) -> Equipment:
        return Equipment.objects.create(
            kind=kind,
            name=name,
            bought_on=bought,
            price_micro=money(price * 100),
            end_value_micro=money(end * 100),
            life_uses=life,
            **fields,
        )

    return {
        "kiln": tool(
            "kiln",
            "Front loader",
            940,
            5000,
            120,
            rated_w=2200,
            share_on_pct100=3800,
            uses_before=610,
            has_program=False,
        ),
        "flask": tool("flask", "Steel 75 x 100", 34, 300, diameter_um=75_000, height_um=100_000),
        "tall_flask": tool("flask", "Steel 75 x 130", 41, 300, diameter_um=75_000, height_um=130_000),
        "crucible": tool(
            "crucible", "Graphite 1", 26, 50, capacity_mg=400_000, crucible_material="graphite", uses_before=9
        ),
        "bronze_crucible": tool(
            "crucible", "Ceramic 2", 14, 40, capacity_mg=500_000, crucible_material="ceramic", uses_before=4
        ),
        "machine": tool("machine", "Vacuum table", 780, 2000, 100, uses_before=120),
        "pump": tool("pump", "Two-stage pump", 260, 1500, 20, uses_before=120),
    }


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
