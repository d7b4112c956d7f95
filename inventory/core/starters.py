"""A starting point for a new studio: alloys, materials, schedules, a checklist. All of it can be changed."""

from collections.abc import Mapping
from dataclasses import dataclass

from studio.kit.working import Source

from .heat import Heats
from .metal import FROM_COMPOSITION
from .schedule import ScheduleStep

POURED = "poured 50 to 100 °C above the liquidus, flask by the work: common practice"


@dataclass(frozen=True, slots=True)
class StarterAlloy:
    """`parts` are per ten thousand by mass, fineness parts per thousand, density mg/cm3 as its source prints it.

    `melting_from` is the source of its melting range.
    """

    name: str
    metal: str
    fineness: int
    parts: Mapping[str, int]
    density_mg_cm3: int
    density_note: str
    heats: Heats = Heats()
    melting_from: str = ""
    quench_minutes: int | None = None

    @property
    def heat_note(self) -> str:
        """Where its temperatures are from, as it stands with the alloy."""
        if not self.melting_from:
            return ""
        return f"melting range {self.melting_from}" + (f"; {POURED}" if self.heats.pour_least_c else "")


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
    """For flasks up to `largest_diameter_um` (micrometres); `powder` and `pattern` are the names of the starter
    materials that it is for, "" for any pattern; `note` says where it is from.
    """

    name: str
    note: str
    largest_diameter_um: int
    steps: tuple[ScheduleStep, ...]
    powder: str
    pattern: str = ""


@dataclass(frozen=True, slots=True)
class StarterSet:
    """What somebody begins with who casts this metal, by name: the alloys that are cast most of it, and their mould."""

    metal: str
    alloys: tuple[str, ...]
    materials: tuple[str, ...]
    schedules: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StarterLine:
    """A line of the checklist; `when` is always, graphite (crucible) or pump."""

    text: str
    when: str = "always"


_TABLE = "published alloy table"
_HANDBOOK = "CRC Handbook of Chemistry and Physics, 80th edition"
_MEMORY = "from memory, to be held against its maker's sheet"


def _heats(solidus_c: int, liquidus_c: int, flask_least_c: int, flask_most_c: int) -> Heats:
    """Poured 50 to 100 C above the liquidus (common practice)."""
    return Heats(solidus_c, liquidus_c, liquidus_c + 50, liquidus_c + 100, flask_least_c, flask_most_c)


STARTER_ALLOYS: tuple[StarterAlloy, ...] = (
    StarterAlloy(
        "Sterling 925",
        "silver",
        925,
        {"Ag": 9250, "Cu": 750},
        10_360,
        _TABLE,
        # Solidus and liquidus: ASM, from memory. A supplier's chart casts it at about 970 C (read). Flask, heavy
        # work to very thin: 400 to 675 C by practitioners (read).
        _heats(802, 893, 400, 675),
        "by ASM, from memory",
        # A supplier's chart: 15 to 20 min for a flask of 100 x 200 mm, smaller ones sooner (read).
        15,
    ),
    StarterAlloy(
        "Silver 958",
        "silver",
        958,
        {"Ag": 9580, "Cu": 420},
        # The ideal mixture; it is no more than 0.1 % off for the silver alloys of the table.
        10_425,
        FROM_COMPOSITION,
        # Worked out between fine silver, sterling and the eutectic of silver and copper, to the nearest 5 C.
        _heats(870, 920, 400, 675),
        "worked out between fine silver and sterling",
    ),
    StarterAlloy(
        "Silver 835",
        "silver",
        835,
        {"Ag": 8350, "Cu": 1650},
        10_200,
        _TABLE,
        # Solidus: the eutectic, 779.1 C (NIST, read). Liquidus worked out as for 958.
        _heats(779, 830, 400, 675),
        "worked out between sterling and the eutectic of silver and copper",
    ),
    StarterAlloy(
        "Fine silver",
        "silver",
        999,
        {"Ag": 10_000},
        10_500,
        _HANDBOOK,
        Heats(962, 962),
        "by ITS-90, from memory",
    ),
    StarterAlloy(
        "9 ct yellow gold",
        "gold",
        375,
        {"Au": 3750, "Cu": 4500, "Ag": 1000, "Zn": 750},
        11_149,
        FROM_COMPOSITION,
        _heats(860, 895, 450, 620),
        _MEMORY,
    ),
    StarterAlloy(
        "14 ct yellow gold", "gold", 585, {"Au": 5850, "Cu": 3120, "Zn": 630, "Ag": 400}, 13_070, _TABLE
    ),
    StarterAlloy(
        "18 ct yellow gold",
        "gold",
        750,
        {"Au": 7500, "Ag": 1600, "Cu": 900},
        15_580,
        _TABLE,
        _heats(895, 920, 450, 620),
        _MEMORY,
    ),
    # The temperatures are those of C90700, from memory.
    StarterAlloy(
        "Bronze", "base", 0, {"Cu": 8900, "Sn": 1100}, 8_770, _TABLE, _heats(831, 999, 430, 590), _MEMORY
    ),
    StarterAlloy(
        "Silicon bronze",
        "base",
        0,
        {"Cu": 9500, "Si": 400, "Mn": 100},
        # C87300: 8.36 g/cm3, 821 and 971 C (data sheet of copper alloys, read); its shares from memory.
        8_360,
        "data sheet of copper alloys, C87300",
        _heats(821, 971, 430, 590),
        "by the data sheet of copper alloys, C87300",
    ),
    # The temperatures are those of C26000, from memory. Zinc boils at 907 C.
    StarterAlloy(
        "Brass", "base", 0, {"Cu": 7000, "Zn": 3000}, 8_530, _TABLE, _heats(916, 954, 430, 540), _MEMORY
    ),
    StarterAlloy(
        "Copper", "base", 0, {"Cu": 10_000}, 8_960, _HANDBOOK, Heats(1_085, 1_085), "by ITS-90, from memory"
    ),
)

_POWDER, _RESIN = "Investment powder", "Castable resin"

STARTER_MATERIALS: tuple[StarterMaterial, ...] = (
    StarterMaterial("Casting wax", "pattern", Source.COMMON_PRACTICE, density_mg_cm3=960),
    StarterMaterial(
        "PLA filament", "pattern", "Scientific Reports 2022, s41598-022-22520-6, table 1", density_mg_cm3=1240
    ),
    StarterMaterial(_RESIN, "pattern", Source.COMMON_PRACTICE, density_mg_cm3=1120),
    StarterMaterial(
        _POWDER,
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
    # 2 h at 300 F, 2 h at 700 F, 3 h at 1350 F, 2 h at 1150 F (read); the widest flask, 3.5 in, from memory.
    StarterSchedule(
        "Wax, flasks to 89 mm",
        "A printed table: 2 h at 300 °F, 2 h at 700, 3 h at 1350, 2 h at 1150; the flask's width is from memory. "
        "Your powder's sheet decides.",
        89_000,
        (
            ScheduleStep(149, hold_minutes=120, label="wax out"),
            ScheduleStep(371, hold_minutes=120),
            ScheduleStep(732, hold_minutes=180, label="burn out"),
            ScheduleStep(621, hold_minutes=120, label="down to the pour"),
        ),
        _POWDER,
    ),
    # Printed tables for flasks up to 4 by 8 in, from memory: 300, 600, 900 F for 2 h each, 1350 F for 4 h, 2 h to pour.
    StarterSchedule(
        "Wax, flasks to 102 mm",
        "From memory of printed tables for flasks up to 4 by 8 in. Your powder's sheet decides.",
        102_000,
        (
            ScheduleStep(149, hold_minutes=120, label="wax out"),
            ScheduleStep(316, hold_minutes=120),
            ScheduleStep(482, hold_minutes=120),
            ScheduleStep(732, hold_minutes=240, label="burn out"),
            ScheduleStep(621, hold_minutes=120, label="down to the pour"),
        ),
        _POWDER,
    ),
    # Resin swells before it burns, so the climbs are slow and the top is long (common practice, from memory).
    StarterSchedule(
        "Resin, flasks to 89 mm",
        "Common practice, from memory: slow climbs, for resin swells before it burns, and a long top. Your resin's "
        "sheet decides.",
        89_000,
        (
            ScheduleStep(149, climb_c_per_hour=60, hold_minutes=180, label="dry through"),
            ScheduleStep(371, climb_c_per_hour=60, hold_minutes=180, label="resin out"),
            ScheduleStep(732, climb_c_per_hour=120, hold_minutes=300, label="burn out"),
            ScheduleStep(593, hold_minutes=120, label="down to the pour"),
        ),
        _POWDER,
        _RESIN,
    ),
)

_LOST_WAX = (("Casting wax", _POWDER), tuple(one.name for one in STARTER_SCHEDULES if not one.pattern))

STARTER_SETS: tuple[StarterSet, ...] = (
    StarterSet("silver", ("Sterling 925",), *_LOST_WAX),
    StarterSet("gold", ("9 ct yellow gold", "14 ct yellow gold", "18 ct yellow gold"), *_LOST_WAX),
    StarterSet("bronze", ("Bronze", "Silicon bronze"), *_LOST_WAX),
    StarterSet("brass", ("Brass",), *_LOST_WAX),
)
"""Which alloys of a metal a small studio casts most: common practice."""

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
