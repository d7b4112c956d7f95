"""A starting point for a new studio: common alloys and materials. Every figure can be changed afterwards."""

from collections.abc import Mapping
from dataclasses import dataclass

from studio.kit.working import Source


@dataclass(frozen=True, slots=True)
class StarterAlloy:
    """`parts` are per ten thousand by mass, fineness parts per thousand, density mg/cm3 as its source prints it."""

    name: str
    metal: str
    fineness: int
    parts: Mapping[str, int]
    density_mg_cm3: int
    density_note: str


@dataclass(frozen=True, slots=True)
class StarterMaterial:
    """Density in mg/cm3, water in tenths for each hundred of powder, lives in days."""

    name: str
    kind: str
    note: str
    density_mg_cm3: int | None = None
    water_per_100_tenths: int | None = None
    shelf_life_days: int | None = None
    opened_life_days: int | None = None


_TABLE = "published alloy table"
_HANDBOOK = "CRC Handbook of Chemistry and Physics, 80th edition"

STARTER_ALLOYS: tuple[StarterAlloy, ...] = (
    StarterAlloy("Sterling 925", "silver", 925, {"Ag": 9250, "Cu": 750}, 10_360, _TABLE),
    StarterAlloy("Silver 835", "silver", 835, {"Ag": 8350, "Cu": 1650}, 10_200, _TABLE),
    StarterAlloy("Fine silver", "silver", 999, {"Ag": 10_000}, 10_500, _HANDBOOK),
    StarterAlloy(
        "14 ct yellow gold", "gold", 585, {"Au": 5850, "Cu": 3120, "Zn": 630, "Ag": 400}, 13_070, _TABLE
    ),
    StarterAlloy("18 ct yellow gold", "gold", 750, {"Au": 7500, "Ag": 1600, "Cu": 900}, 15_580, _TABLE),
    StarterAlloy("Bronze", "base", 0, {"Cu": 8900, "Sn": 1100}, 8_770, _TABLE),
    StarterAlloy("Brass", "base", 0, {"Cu": 7000, "Zn": 3000}, 8_530, _TABLE),
    StarterAlloy("Copper", "base", 0, {"Cu": 10_000}, 8_960, _HANDBOOK),
)

STARTER_MATERIALS: tuple[StarterMaterial, ...] = (
    StarterMaterial("Casting wax", "pattern", Source.COMMON_PRACTICE, density_mg_cm3=960),
    StarterMaterial(
        "PLA filament", "pattern", "Scientific Reports 2022, s41598-022-22520-6, table 1", density_mg_cm3=1240
    ),
    StarterMaterial("Castable resin", "pattern", Source.COMMON_PRACTICE, density_mg_cm3=1120),
    StarterMaterial(
        "Investment powder",
        "powder",
        "common practice; your maker's sheet decides",
        water_per_100_tenths=400,
        shelf_life_days=365,
        opened_life_days=180,
    ),
)
