"""The density of metal from its weight in air and in water, and the fineness that follows if it is silver and copper.

Masses are milligrams, densities milligrams per cm3 as exact fractions, fineness parts per million. It is an estimate:
other metals in the alloy, a hollow or a stone make it wrong, and only an assay proves a fineness.
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor

from studio.kit.printing import print_density, print_mass
from studio.kit.units import round_half_up
from studio.kit.working import Given, Step, Working, make_working, origin_of

from .fineness import PPM_WHOLE, print_ppm
from .metal import ELEMENT_DENSITY_MG_CM3
from .weighing import COVERAGE, compute_weighing_uncertainty

#: Micrograms per cm3 of water by its temperature in C: CRC Handbook of Chemistry and Physics, density of water (from
#: memory). Between two of them a straight line is off by less than one in a hundred thousand.
WATER_UG_CM3 = {10: 999_703, 15: 999_103, 20: 998_207, 25: 997_048, 30: 995_650}
COLDEST_C, WARMEST_C = min(WATER_UG_CM3), max(WATER_UG_CM3)
_TENTH_PPM = 100
SOURCE = "Archimedes' law; density of water and of silver and copper: CRC Handbook of Chemistry and Physics"
TAKEN_FOR_GRANTED = (
    "It takes for granted that there is nothing but silver and copper in it, and no hollow, no stone, no solder and "
    "no bubble of air: any of these makes it wrong. Only an assay proves a fineness."
)


@dataclass(frozen=True, slots=True)
class InWater:
    """The density and how far it may be off (k = 2), the fineness between whose ends the metal is, or what is wrong."""

    density_mg_cm3: Fraction
    off_mg_cm3: Fraction
    low_ppm: int
    high_ppm: int
    problem: str
    working: Working


def compute_water_density(celsius: int) -> Fraction:
    """Milligrams per cm3. Raises ValueError outside of the table."""
    if not COLDEST_C <= celsius <= WARMEST_C:
        raise ValueError(f"water of {celsius} C is not in the table")
    below = max(known for known in WATER_UG_CM3 if known <= celsius)
    above = min(known for known in WATER_UG_CM3 if known >= celsius)
    if below == above:
        return Fraction(WATER_UG_CM3[below], 1_000)
    share = Fraction(celsius - below, above - below)
    return (WATER_UG_CM3[below] + share * (WATER_UG_CM3[above] - WATER_UG_CM3[below])) / 1_000


def compute_silver_share(density_mg_cm3: Fraction) -> Fraction:
    """The share by mass of silver in an ideal mixture with copper: below 0 or above 1 for what cannot be one."""
    silver, copper = (1 / Fraction(ELEMENT_DENSITY_MG_CM3[one]) for one in ("Ag", "Cu"))
    return (copper - 1 / density_mg_cm3) / (copper - silver)


def weigh_in_water(air_mg: int, water_mg: int, celsius: int, division_mg: int) -> InWater:
    """What two weighings on one scale tell. Raises ValueError for what floats or weighs nothing, and as
    `compute_water_density`."""
    if not 0 <= water_mg < air_mg:
        raise ValueError("metal weighs less in water than in air, and more than nothing")
    rho = compute_water_density(celsius)
    lost_mg = air_mg - water_mg
    density = rho * air_mg / lost_mg
    one_mg = Fraction(compute_weighing_uncertainty(division_mg, 1).standard_mg)
    # By the derivatives of the quotient: -water / lost^2 for the weight in air, air / lost^2 for that in water.
    square = Decimal(air_mg * air_mg + water_mg * water_mg)
    off = COVERAGE * rho * one_mg * Fraction(square.sqrt()) / (lost_mg * lost_mg)
    ends = [compute_silver_share(max(one, Fraction(1))) * PPM_WHOLE for one in (density - off, density + off)]
    # Outwards to tenths of a part per thousand: finer than that would claim more than two weighings tell.
    low_ppm = max(floor(ends[0] / _TENTH_PPM) * _TENTH_PPM, 0)
    high_ppm = min(ceil(ends[1] / _TENTH_PPM) * _TENTH_PPM, PPM_WHOLE)
    problem = _find_problem(*ends)
    result = problem or f"from {print_ppm(low_ppm)} to {print_ppm(high_ppm)} of 1000"
    working = make_working(
        "Weighed in air and in water",
        "density of the water times the weight in air, divided by what it weighs less in water; then the share of "
        "silver in a mixture of silver and copper that takes up as much space as both",
        Given("in air", print_mass(air_mg), "typed here"),
        Given("in water", print_mass(water_mg), "typed here"),
        Given("density of the water", f"{_finely(rho)} at {celsius} °C", "table"),
        Given("division of the scale", print_mass(division_mg), origin_of(division_mg)),
        Step(
            f"{_finely(rho)} × {print_mass(air_mg)} ÷ ({print_mass(air_mg)} − {print_mass(water_mg)})",
            _finely(density),
        ),
        Step("what the scale cannot show of it (k = 2)", f"{_finely(off)} more or less"),
        *(
            Step(f"silver at {_finely(at)}", f"{print_ppm(round_half_up(end))} of 1000")
            for at, end in zip((density - off, density + off), ends, strict=True)
        ),
        result=result,
        source=SOURCE,
        notes=(TAKEN_FOR_GRANTED,),
    )
    return InWater(density, off, low_ppm, high_ppm, problem, working)


def _finely(density_mg_cm3: Fraction) -> str:
    return print_density(round_half_up(density_mg_cm3))


def _find_problem(low: Fraction, high: Fraction) -> str:
    if high < 0:
        return (
            "It is lighter than copper, so there is something else in it, or a hollow or a stone: its fineness cannot "
            "be told so."
        )
    if low > PPM_WHOLE:
        return "It is heavier than silver, so there is something else in it: its fineness cannot be told so."
    return ""
