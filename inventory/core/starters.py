"""A starting point for a new studio: alloys, materials, schedules, a checklist. All of it can be changed."""

from collections.abc import Mapping
from dataclasses import dataclass

from studio.kit.working import Source

from .schedule import ScheduleStep


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
    """Density in mg/cm3, water in tenths for each hundred of powder, lives in days; of powder also how it is worked."""

    name: str
    kind: str
    note: str
    density_mg_cm3: int | None = None
    water_per_100_tenths: int | None = None
    shelf_life_days: int | None = None
    opened_life_days: int | None = None
    slurry_mg_cm3: int | None = None
    working_minutes: int | None = None
    most_c: int | None = None


@dataclass(frozen=True, slots=True)
class StarterSchedule:
    """`powder` is the name of the starter material that it is for; `note` says where it is from."""

    name: str
    note: str
    steps: tuple[ScheduleStep, ...]
    powder: str


@dataclass(frozen=True, slots=True)
class StarterLine:
    """A line of the checklist; `when` is always, graphite (crucible) or pump."""

    text: str
    when: str = "always"


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
        # Worked out for 40 of water to 100 of powder from handbook densities of its parts (from memory).
        slurry_mg_cm3=1_767,
        working_minutes=8,
        most_c=750,
    ),
)

STARTER_SCHEDULES: tuple[StarterSchedule, ...] = (
    # First hour to 150 C, top at 750 C, down to 600 C before the pour (common practice); the holds fill the hours.
    StarterSchedule(
        "Small flask, 13 h",
        "Common practice for a small flask; your powder's sheet decides.",
        (
            ScheduleStep(150, climb_minutes=60, hold_minutes=120, label="wax out"),
            ScheduleStep(750, climb_minutes=240, hold_minutes=240, label="burn out"),
            ScheduleStep(600, climb_minutes=60, hold_minutes=60, label="down to the pour"),
        ),
        "Investment powder",
    ),
    # 2 h at 300 F, 2 h at 700 F, 3 h at 1350 F, 2 h at 1150 F (read).
    StarterSchedule(
        "Four holds, 9 h",
        "A printed schedule: 300, 700, 1350 and 1150 °F, as fast as the kiln can between them.",
        (
            ScheduleStep(149, hold_minutes=120, label="wax out"),
            ScheduleStep(371, hold_minutes=120),
            ScheduleStep(732, hold_minutes=180, label="burn out"),
            ScheduleStep(621, hold_minutes=120, label="down to the pour"),
        ),
        "Investment powder",
    ),
)

STARTER_CHECKLIST: tuple[StarterLine, ...] = (
    StarterLine("Vacuum is on and tight", "pump"),
    StarterLine("No flux in the graphite crucible", "graphite"),
    StarterLine("Flask is dry through and down to its pouring temperature"),
    StarterLine("Face shield and gloves are on"),
    StarterLine("Floor is dry and the way is clear"),
    StarterLine("Tongs lie ready, and the quench bucket is full"),
    StarterLine("Somebody knows that I am pouring"),
)
"""What to look at before the metal is poured (common practice)."""
